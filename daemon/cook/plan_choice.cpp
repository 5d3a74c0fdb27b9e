#include "daemon/cook/plan_choice.hpp"

#include <algorithm>

namespace ingle {

PlanChoice choose_plan(std::span<StageSettings const> began_with, std::span<StageSettings const> now,
                       std::size_t place, NowPlan plan) {
    if (place >= began_with.size()) return {false, place};  // every stage is done, and stays done
    auto const& name = began_with[place].name;
    if (place < now.size() && now[place].name == name) return {true, place};
    auto const named = std::ranges::count(now, name, &StageSettings::name);
    if (named == 1)
        return {true,
                static_cast<std::size_t>(std::ranges::find(now, name, &StageSettings::name) - now.begin())};
    if (named > 1 || plan == NowPlan::another || began_with.size() != now.size()) return {false, place};
    for (std::size_t i = 0; i < now.size(); ++i)
        if (i != place && began_with[i].name != now[i].name) return {false, place};
    return {true, place};
}

}  // namespace ingle
