// The names of the kitchen file for the numbers that the core uses. Pure.
#pragma once

#include <optional>
#include <string>

#include "config/civil_time/time_zone.hpp"
#include "config/settings.hpp"
#include "daemon/model/command.hpp"
#include "daemon/model/subject.hpp"

namespace ingle {

std::string name_of(Settings const& settings, Subject subject);  // the kitchen's own name for the kitchen

// ISO 8601 in whole seconds with the offset of the zone, "+00:00" for none; "" if wall time is not known.
std::string wall_text(Instant at, std::optional<ClockAnchor> const& anchor, TimeZone const& zone);

}  // namespace ingle
