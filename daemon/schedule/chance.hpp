// How often each dish is ready in time, when every stage lasts as long as it may: all dishes together, so
// that one that is late keeps its vessel and the cook from the next. Pure; the same each time.
#pragma once

#include "daemon/schedule/lengths.hpp"
#include "daemon/schedule/problem.hpp"

namespace ingle::schedule {

// `lengths` parallel to the tasks, `times` as planned. Of each job the share of 1, were each stage begun
// at its time; and when it is ready by a cook who is a few minutes late now and then: in one of ten sooner,
// in one of ten later.
struct Chance {
    double in_time = 0;
    Seconds ready_early = 0, ready_late = 0;
};
std::vector<Chance> chances(Problem const& problem, Times const& times,
                            std::vector<std::vector<StageLength>> const& lengths);

}  // namespace ingle::schedule
