// When nobody is there, from the hours of the kitchen file and its zone. Pure.
#pragma once

#include "config/civil_time/time_zone.hpp"
#include "daemon/schedule/problem.hpp"

namespace ingle::schedule {

// All that touch `span`, in order; over a change of daylight saving by the clock on the wall.
std::vector<Interval> nights(std::optional<AwakeHours> awake, TimeZone const& zone, Interval span);

}  // namespace ingle::schedule
