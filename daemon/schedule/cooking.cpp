#include "daemon/schedule/cooking.hpp"

#include <algorithm>

#include "daemon/model/view.hpp"
#include "daemon/schedule/jobs.hpp"

namespace ingle::schedule {
namespace {

// How long its stage still takes, of what it waits for.
void set_left(Running& running, Cooking const& dish) {
    if (dish.over) running.left_s = running.left_low_s = running.left_high_s = 0;
    if (dish.over || (!dish.left && !dish.core_eta)) return;
    auto const least = dish.left.value_or(0);
    auto const longer = [&](std::optional<double> s) { return std::max(least, s.value_or(0)); };
    running.left_s = longer(dish.core_eta);
    running.left_low_s = dish.core_eta ? longer(dish.core_low) : least;
    running.left_high_s = dish.core_eta ? longer(dish.core_high.value_or(*dish.core_eta)) : least;
}

}  // namespace

std::vector<Cooking> cooking_in(std::vector<DishView> const& dishes, Instant now) {
    std::vector<Cooking> out;
    for (auto const& dish : dishes) {
        if (!dish.begun) continue;
        Cooking cooking{dish.name, dish.stage, dish.clock.state.starts_with("over;")};
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
        auto const stage =
            std::ranges::find_if(stages, [&](auto const& one) { return one.settings->name == dish.stage; });
        Running running;
        running.dish = number;
        running.stage = static_cast<std::size_t>(stage - stages.begin());
        running.began = at - static_cast<Seconds>(dish.stage_age);
        set_left(running, dish);
        out.push_back(running);
    }
    return out;
}

}  // namespace ingle::schedule
