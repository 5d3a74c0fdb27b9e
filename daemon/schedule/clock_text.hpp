// A moment as the clock on the wall shows it. Pure.
#pragma once

#include <string>

#include "config/civil_time/time_zone.hpp"
#include "daemon/schedule/problem.hpp"

namespace ingle::schedule {

// "17:00"; "Sat 17:00" where it is not the day of `day`, with the date from six days on; with its offset
// where it comes twice.
std::string clock_text(TimeZone const& zone, Seconds t, Seconds day);
// "Sat", "Sun", ...
std::string day_text(TimeZone const& zone, Seconds t);

}  // namespace ingle::schedule
