// Pieces that the JSON answers share. Only for daemon/web/json*.cpp.
#pragma once

#include <optional>
#include <string>

#include <nlohmann/json.hpp>

#include "daemon/web/host.hpp"

namespace ingle::web_json {

using Json = nlohmann::ordered_json;

Json number(double value);  // null where it is not finite; 1e-4 is enough for a kitchen
Json number(std::optional<double> value);
// ISO 8601 with the offset of the zone, which tells a doubled hour apart; or null.
Json wall(std::optional<WallMs> at, TimeZone const& zone);
Json wall(Instant at, std::optional<std::int64_t> offset_ms, TimeZone const& zone);
Json fault(std::optional<Fault> const& fault);
Json band(std::optional<Band> const& band);
Json forecast(std::optional<Forecast> const& forecast, Instant now);
std::string_view word(Quality quality);
std::string_view word(VesselKind kind);
std::string_view word(Transition transition);
Json alarm(Alarm const& alarm, std::string const& subject, Instant now, std::optional<std::int64_t> offset_ms,
           TimeZone const& zone);
Json now(View const& view, Status const& status, std::vector<PendingNotice> const& pending,
         TimeZone const& zone);

// Of the names in a view.
std::string subject_of(Subject subject, View const& view);
std::string text(Json const& json);

}  // namespace ingle::web_json
