// What is left of a plan before its dish can be served, as far as that is known. Pure.
#pragma once

#include <optional>
#include <span>

#include "config/settings.hpp"
#include "daemon/forecast/core_forecast.hpp"

namespace ingle {

struct LeftOfPlan {
    double least_s = 0;               // what the plan itself still asks: nothing can be quicker
    double soon_s = 0, likely_s = 0;  // three of four, and one of two, take longer; both at least least_s
    bool present_known = true;        // false: nothing is known of how long the stage that runs still takes
    bool complete = true;             // false: a stage has no length that is known
};
struct StageSoFar {
    Span elapsed{0}, counted{0};  // since it began; of the time that it waits for
    bool core_reached = false;
    CoreForecast::Answer core;  // of its target
};
// `stages`: what is left of the plan; its first one runs, `so_far`. A stage that keeps the dish until it is
// served (a hold, or one that waits for the cook) takes no time.
LeftOfPlan left_of_plan(std::span<StageSettings const> stages, StageSoFar const& so_far);

}  // namespace ingle
