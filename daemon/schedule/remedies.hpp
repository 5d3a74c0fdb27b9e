// Changes that resolve a conflict: for each the whole kitchen is planned again with it, as if the cook had
// made it, and only what then holds is told. Pure.
#pragma once

#include "daemon/schedule/trial.hpp"

namespace ingle::schedule {

// Sentences, the least change first. `dishes`: those of the conflict.
std::vector<std::string> remedies(Wanted const& wanted, Trial const& trial,
                                  std::vector<DishJob> const& dishes, Conflict const& conflict);
// Of a dish that can be done at no time as its plan and its vessels are.
std::vector<std::string> made_possible(Wanted const& wanted, Trial const& trial, DishJob const& dish);
// What makes a dish surer that is only just ready in time.
std::vector<std::string> surer(Wanted const& wanted, Trial const& trial, DishJob const& dish);

}  // namespace ingle::schedule
