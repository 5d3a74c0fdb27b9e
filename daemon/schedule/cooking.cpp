#include "daemon/schedule/cooking.hpp"

#include <algorithm>

#include "daemon/model/view.hpp"
#include "daemon/schedule/jobs.hpp"

namespace ingle::schedule {

void Cooking::set_clock(std::string_view state) {
    over = state.starts_with("over;"), unread = state == "stopped: no reading";
}

std::vector<Cooking> cooking_in(std::vector<DishView> const& dishes, Instant now) {
    std::vector<Cooking> out;
    for (auto const& dish : dishes) {
        if (!dish.begun && !dish.cooked) continue;
        Cooking cooking;
        cooking.dish = dish.name, cooking.stage = dish.stage, cooking.cooked = dish.cooked;
        cooking.place = dish.stage_number;
        cooking.set_clock(dish.clock.state);
        cooking.core_there = dish.core_reached, cooking.core_c = dish.core_c, cooking.undone = dish.undone;
        cooking.medium_c = dish.medium_c;
        if (dish.stage_began) cooking.stage_age = seconds(now - *dish.stage_began);
        if (dish.clock.left) cooking.left = seconds(*dish.clock.left);
        if (dish.forecast && dish.forecast->what == "core-target" && dish.forecast->eta_s) {
            cooking.core_eta = dish.forecast->eta_s;
            cooking.core_low = dish.forecast->low_s, cooking.core_high = dish.forecast->high_s;
        }
        out.push_back(std::move(cooking));
    }
    return out;
}

std::vector<Running> running_dishes(std::vector<Cooking> const& cooking, Settings const& settings,
                                    Seconds at) {
    std::vector<Running> out;
    for (auto const& dish : cooking) {
        int const number = number_of(settings.dishes, dish.dish);
        if (number < 0) continue;
        auto const stages = stages_of(settings, settings.dishes[static_cast<std::size_t>(number)]);
        auto const has_its_name = [&](auto const& one) { return one.settings->name == dish.stage; };
        // The plan may have been edited since.
        bool const in_place = dish.place < stages.size() && has_its_name(stages[dish.place]);
        auto const stage = in_place ? stages.begin() + static_cast<std::ptrdiff_t>(dish.place)
                                    : std::ranges::find_if(stages, has_its_name);
        Running running;
        running.dish = number;
        running.stage = static_cast<std::size_t>(stage - stages.begin());
        running.by_another_plan = stage == stages.end() && dish.stage != "done" && !dish.cooked;
        running.began = at - static_cast<Seconds>(dish.stage_age);
        running.cooked = dish.cooked, running.over = dish.over, running.unread = dish.unread,
        running.core_there = dish.core_there;
        running.core_c = dish.core_c, running.medium_c = dish.medium_c, running.undone = dish.undone;
        running.clock_left_s = dish.left;
        running.left_s = dish.core_eta, running.left_low_s = dish.core_low;
        running.left_high_s = dish.core_high;
        out.push_back(running);
    }
    return out;
}

}  // namespace ingle::schedule
