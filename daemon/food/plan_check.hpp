// What a plan asks of a dish, held against what the dish's food class asks. Pure; any thread.
#pragma once

#include <vector>

#include "config/load.hpp"

namespace ingle {

// One warning for each dish whose plan ends its cooking below the core target of its class, or by a lethality
// that no table or model gives for it: where the plan says so, what the class asks, and by whose rule.
std::vector<ConfigError> plan_doubts(Settings const& settings);

}  // namespace ingle
