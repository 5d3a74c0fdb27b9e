// The times of all dishes of a kitchen together: on time, or as little late as can be. Pure.
#pragma once

#include <cstddef>
#include <limits>

#include "daemon/schedule/chance.hpp"
#include "daemon/schedule/jobs.hpp"

namespace ingle::schedule {

struct Planned {
    Problem problem;  // without margins
    Times times;
};

// The problem itself, then with what cooks and cannot wait until it is served ending some minutes sooner than
// at the last moment: where it would be in the way of another.
std::vector<Problem> ending_sooner(Problem const& problem, std::vector<DishJob> const& dishes);

inline constexpr std::size_t any_steps = std::numeric_limits<std::size_t>::max();
// `steps`: of one search. With fewer than it takes the answer is the same lateness, or none.
std::optional<Planned> plan_together(Wanted const& wanted, std::vector<DishJob> const& dishes,
                                     std::size_t steps = any_steps);
// How often each of `dishes` is in time by what was planned.
std::vector<Chance> chances_of(Planned const& planned, std::vector<DishJob> const& dishes);

// As late as anything may be put.
Seconds horizon_of(Wanted const& wanted, Problem const& problem);

// Says so in the dish where it can be done at no time at all, even alone.
void find_impossible(Wanted const& wanted, DishJob& dish);

}  // namespace ingle::schedule
