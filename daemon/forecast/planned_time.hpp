// How long a core takes, before anything was read: the bodies that the dish may be by what is known of it,
// each put into a medium that keeps its temperature. Pure; any thread.
#pragma once

#include <optional>
#include <vector>

#include "daemon/forecast/prior.hpp"

namespace ingle {

constexpr double planning_horizon_s = 36 * 3600.0;

struct PlannedTime {
    // The middle one and the tenth from either end; an end that is not within the horizon is told as the
    // horizon. None where more than half do not come to the target within it.
    std::optional<double> seconds, low_s, high_s;
    double never = 0;  // share that does not come to it
};
// `start_c`, `medium_c`, `target_c` degC; heats where the target is above the start, else cools. A surface
// that dries is as `entries.surroundings` has it: none in liquid, a plateau in an oven and longer in a
// smoker.
PlannedTime planned_time(DishEntries const& entries, double start_c, double medium_c, double target_c);

// The last answers: a plan is made anew each minute, and asks the same of the same dishes. One owner's, one
// thread's.
class PlannedTimes {
public:
    PlannedTime of(DishEntries const& entries, double start_c, double medium_c, double target_c);

private:
    struct Answer {
        DishEntries entries;
        double start_c = 0, medium_c = 0, target_c = 0;
        PlannedTime time = {};
        bool is_of(Answer const& asked) const;
    };
    std::vector<Answer> answers_;  // the newest asked is the last
};

}  // namespace ingle
