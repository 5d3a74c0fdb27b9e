// What in a plan can be read and is hardly meant: a hold on the unsafe side, a stage that never ends. Pure.
#pragma once

#include <string>
#include <vector>

#include "daemon/wiring/kitchen_file.hpp"

namespace ingle::cli {

// Each is one line: what is wrong with it, and what would be right.
std::vector<ConfigError> doubts_of(PlanSettings const& plan);

// A plan file alone: its stages, and no kitchen; also where it has no stage yet.
bool is_plan_alone(std::string const& text);
// Nothing but space and comments.
bool says_nothing(std::string const& text);
// That the plan is written in.
TemperatureUnit unit_of(std::string const& text);

}  // namespace ingle::cli
