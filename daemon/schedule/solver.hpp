// When each stage begins, so that every dish is ready at its serving time and waits as little as can be;
// where that cannot be, so that dishes are late by as little as can be. Exact where the kitchen is small, and
// says whether it was; deterministic: bounded by a count of steps, never by a clock. Pure.
#pragma once

#include <cstddef>

#include "daemon/schedule/problem.hpp"

namespace ingle::schedule {

struct Solution {
    Times times;
    Seconds late = 0;     // of all dishes
    Seconds waiting = 0;  // of all dishes, beyond what their stages ask
    bool proven = false;  // nothing is better
};
// Empty: no order of the stages is possible before `horizon`, or within the steps that were allowed.
struct Answer {
    std::optional<Solution> best;
    bool proven = false;  // that there is none
};

// The steps that a kitchen of this size is worth: all that it takes for a small one.
std::size_t usual_steps(Problem const& problem);

// Every dish on time, or none of it.
Answer on_time(Problem const& problem, std::size_t steps);
// Every dish as soon after its serving time as can be, where it cannot be on time.
Answer least_late(Problem const& problem, Seconds horizon, std::size_t steps);

// On time if that can be, else least late; what is not proven is improved a few dishes at a time. Empty:
// there is no order before `horizon`, or none was found.
Answer solve(Problem const& problem, Seconds horizon);
// The same lateness as `solve` gives, found in at most so many steps. Empty: it took more, or there is none.
std::optional<Solution> solve_within(Problem const& problem, Seconds horizon, std::size_t steps);

Seconds waiting(Problem const& problem, Times const& times);

}  // namespace ingle::schedule
