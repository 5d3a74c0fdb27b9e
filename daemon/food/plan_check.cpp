#include "daemon/food/plan_check.hpp"

#include <algorithm>
#include <optional>

#include "daemon/food/classes.hpp"
#include "daemon/food/phase.hpp"
#include "daemon/food/step.hpp"

namespace ingle {
namespace {

bool cooks(Settings const& settings, DishSettings const& dish, StageSettings const& stage) {
    int const number = stage.vessel >= 0 ? stage.vessel : dish.vessel;
    auto const where =
        number < 0 ? std::nullopt : std::optional(settings.vessels[static_cast<std::size_t>(number)].kind);
    return is_heated(food_phase(stage.does, where, stage.until.core));
}

std::string asked(FoodClass const& food, TemperatureUnit units) {
    auto const& target = food.targets.front();
    return std::string(food.name) + " is asked for " + show(Temperature{target.celsius()}, units) +
           (target.hold_s > 0 ? " for " + show(Duration{target.hold_s}) : "") + " (" +
           std::string(target.source) + ")";
}

}  // namespace

std::vector<ConfigError> plan_doubts(Settings const& settings) {
    std::vector<ConfigError> doubts;
    for (auto const& dish : settings.dishes) {
        auto const* known = food_class(dish.food);
        auto const food = known ? std::optional(prepared(*known, dish.preparation)) : std::nullopt;
        auto const plan = std::ranges::find(settings.plans, dish.plan, &PlanSettings::name);
        if (!food || food->targets.empty() || plan == settings.plans.end()) continue;
        double const target_c = food->targets.front().celsius();
        StageSettings const* hottest = nullptr;
        StageSettings const* by_lethality = nullptr;
        for (auto const& stage : plan->stages) {
            if (!cooks(settings, dish, stage)) continue;
            if (stage.until.core && (!hottest || *stage.until.core > *hottest->until.core)) hottest = &stage;
            if (stage.until.lethality) by_lethality = &stage;
        }
        bool const hot_enough = hottest && hottest->until.core->celsius >= target_c - rounding_k;
        auto const doubt = [&](StageSettings const& stage, std::string const& key, std::string what) {
            doubts.push_back({stage.where, "stage." + stage.name + ".until." + key,
                              "asks less of the dish " + dish.name + " than its class: " + std::move(what),
                              asked(*food, settings.units)});
        };
        bool const decides = food->model != LethalityModel::none && !food->trichinella_game;
        if (by_lethality && !decides && !hot_enough)
            doubt(*by_lethality, "lethality",
                  "no published lethality decides for it, so that the stage waits for the core target too");
        else if (hottest && !hot_enough && !(by_lethality && decides))
            doubt(*hottest, "core", show(*hottest->until.core, settings.units));
    }
    return doubts;
}

}  // namespace ingle
