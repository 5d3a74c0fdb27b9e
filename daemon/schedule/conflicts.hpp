// What keeps dishes from being ready in time, and the least change that resolves it: each one is tried by
// scheduling again, and none of them breaks a food rule. Pure.
#pragma once

#include "daemon/schedule/jobs.hpp"

namespace ingle::schedule {

// As late as anything may be put.
Seconds horizon_of(Wanted const& wanted, Problem const& problem);

// Says so in the dish where it can be done at no time at all, even alone.
void find_impossible(Wanted const& wanted, DishJob& dish);

// Adds to `out` a conflict for each smallest set of dishes that are not on time together, and to its dishes
// what would make them surer.
void find_conflicts(Wanted const& wanted, std::vector<DishJob> const& dishes, Schedule& out);

}  // namespace ingle::schedule
