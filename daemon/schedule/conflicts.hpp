// What keeps dishes from being ready in time, and the least change that resolves it: each one is tried by
// scheduling again, and none of them breaks a food rule. Pure.
#pragma once

#include "daemon/schedule/trial.hpp"

namespace ingle::schedule {

// Adds to `out` a conflict for each smallest set of dishes that are not on time together, and to its dishes
// what would make them surer.
void find_conflicts(Wanted const& wanted, Trial const& trial, std::vector<DishJob> const& dishes,
                    Schedule& out);

}  // namespace ingle::schedule
