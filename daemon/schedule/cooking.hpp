// What cooks now, as whoever watches it says so, to what a schedule goes by. Pure.
#pragma once

#include <cstddef>
#include <optional>
#include <string>
#include <string_view>
#include <vector>

#include "daemon/model/view.hpp"
#include "daemon/schedule/schedule.hpp"
#include "drivers/reading/clock.hpp"

namespace ingle::schedule {

struct Cooking {  // a dish that was begun, or whose cook is over; seconds
    std::string dish, stage;
    std::size_t place = 0;    // of the stage in its plan, from 0; two may have one name
    bool cooked = false;      // it is not begun: its cook for this serving time is over
    bool over = false;        // the stage is, and waits for the cook to go on
    bool unread = false;      // nothing is read, and its time stands still
    bool core_there = false;  // the target of the stage
    std::optional<double> core_c, medium_c;
    std::vector<LeftUndone> undone{};
    double stage_age = 0;                                 // since it began
    std::optional<double> left;                           // of the time that it waits for
    std::optional<double> core_eta, core_low, core_high;  // until the core is at its target

    void set_clock(std::string_view state);  // of its stage, in the words of `StageClock`
};

std::vector<Cooking> cooking_in(std::vector<DishView> const& dishes, Instant now);
// `at`: the moment that the ages are of. Dishes that are not of this kitchen are left out.
std::vector<Running> running_dishes(std::vector<Cooking> const& cooking, Settings const& settings,
                                    Seconds at);

}  // namespace ingle::schedule
