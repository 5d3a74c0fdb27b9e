// What cooks now, as whoever watches it says so, to what a schedule goes by. Pure.
#pragma once

#include <optional>
#include <string>
#include <vector>

#include "daemon/schedule/schedule.hpp"
#include "drivers/reading/clock.hpp"

namespace ingle {
struct DishView;
}

namespace ingle::schedule {

struct Cooking {  // a dish that was begun; seconds
    std::string dish, stage;
    bool over = false;                                    // the stage is, and waits for the cook to go on
    double stage_age = 0;                                 // since it began
    std::optional<double> left;                           // of the time that it waits for
    std::optional<double> core_eta, core_low, core_high;  // until the core is at its target
};

std::vector<Cooking> cooking_in(std::vector<DishView> const& dishes, Instant now);
// `at`: the moment that the ages are of. Dishes that are not of this kitchen are left out.
std::vector<Running> running_dishes(std::vector<Cooking> const& cooking, Settings const& settings,
                                    Seconds at);

}  // namespace ingle::schedule
