// A schedule as a calendar file (RFC 5545): an event for each stage and each serving time, all in UTC, so
// that no change of the clocks can move them, and an alarm before what needs somebody. Pure.
#pragma once

#include <string>
#include <string_view>

#include "daemon/schedule/schedule.hpp"

namespace ingle::cli {

std::string calendar(schedule::Schedule const& schedule, Settings const& settings);

// A line and its end, folded after 75 octets at most and never within a character (section 3.1).
std::string folded(std::string_view line);
// A text as a value (section 3.3.11).
std::string escaped(std::string_view text);

}  // namespace ingle::cli
