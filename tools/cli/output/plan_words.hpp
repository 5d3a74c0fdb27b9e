// What a plan means, in sentences. Pure.
#pragma once

#include <string>
#include <vector>

#include "config/settings.hpp"

namespace ingle::cli {

// One for each stage: "poach: hold 180 to 190 degF, until the core is at 165.0 degF and 2 h have passed ...".
std::vector<std::string> plan_sentences(PlanSettings const& plan, TemperatureUnit unit);

}  // namespace ingle::cli
