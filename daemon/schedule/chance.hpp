// How often each dish is ready in time, when every stage lasts as long as it may: all dishes together, so
// that one that is late keeps its vessel and the cook from the next. Pure; the same each time.
#pragma once

#include "daemon/schedule/lengths.hpp"
#include "daemon/schedule/problem.hpp"

namespace ingle::schedule {

// What goes in cold takes heat with it, and a time that counts in the band waits until that is back: of such
// a task nine of ten are longer by no more than this. 0: another task. Common practice, no source.
Seconds heat_back(Task const& task, StageLength const& length);
// A stage that somebody begins is begun a little late: nine of ten by no more than this. Common practice, no
// source.
inline constexpr Seconds hands_late_s = 180;

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
