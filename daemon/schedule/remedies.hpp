// Changes that resolve a conflict, each tried by scheduling again with it. Pure.
#pragma once

#include "daemon/schedule/jobs.hpp"

namespace ingle::schedule {

// Sentences, the least change first.
std::vector<std::string> remedies(Wanted const& wanted, std::vector<DishJob> const& dishes,
                                  Conflict const& conflict);
// Of a dish that can be done at no time as its plan and its vessels are.
std::vector<std::string> made_possible(Wanted const& wanted, DishJob const& dish);
// What makes a dish surer that is only just ready in time.
std::vector<std::string> surer(Wanted const& wanted, std::vector<DishJob> const& dishes, std::size_t j);

}  // namespace ingle::schedule
