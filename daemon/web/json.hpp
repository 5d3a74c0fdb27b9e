// The daemon's values as JSON text: one function per answer of the API. degC and seconds throughout; what has
// no value is null with a reason beside it. io thread.
#pragma once

#include <string>
#include <vector>

#include "daemon/web/guard.hpp"
#include "daemon/web/host.hpp"
#include "daemon/web/server.hpp"

namespace ingle {

// How often a probe is to be read comes from the settings, by the probe's number.
std::string now_json(View const& view, Status const& status, Settings const& settings,
                     std::vector<PendingNotice> const& pending, TimeZone const& zone);
std::string alarms_json(View const& view, TimeZone const& zone);
std::string past_alarms_json(TimeSpan span, std::vector<PastAlarm> const& alarms, TimeZone const& zone);
std::string cooks_json(View const& view, std::vector<PastCook> const& cooks, TimeZone const& zone);
std::string history_json(HistoryQuery const& query, History const& history, TimeZone const& zone);
// `pending`: what is on its way at this moment, of which the past knows no next try.
std::string notices_json(TimeSpan span, PastNotices const& past, Status const& status,
                         std::vector<PendingNotice> const& pending, View const& view, TimeZone const& zone);
std::string outcome_json(Outcome const& outcome);
std::string error_json(std::string const& text);
// Of a caller whom the guard answered so when asked for a change.
std::string session_json(Refusal const& refusal, std::optional<WallMs> guest_until, TimeZone const& zone);
std::string health_json(View const& view, Status const& status);

// One server-sent event ("event: ...\ndata: ...\n\n"); "" for effects that are not told to listeners.
std::string event_text(Effect const& effect, Settings const& settings, std::optional<std::int64_t> offset_ms,
                       TimeZone const& zone);
std::string now_event(View const& view, Status const& status, Settings const& settings,
                      std::vector<PendingNotice> const& pending, TimeZone const& zone);

std::string name_of_subject(Subject subject, Settings const& settings);

}  // namespace ingle
