// Round local times for the axis of a chart.
#pragma once

#include <string>
#include <utility>
#include <vector>

#include "tools/cli/time/span.hpp"

namespace ingle::cli {

// The shortest round step, s, that divides `length` s into at most about `most` parts.
double time_step(double length, std::size_t most);

// At most about `most`, in order: "14:00"; a midnight is told by its day, "11-26".
std::vector<std::pair<WallTime, std::string>> time_ticks(WallSpan span, std::size_t most);

}  // namespace ingle::cli
