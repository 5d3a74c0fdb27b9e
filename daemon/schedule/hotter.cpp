#include "daemon/schedule/hotter.hpp"

#include <algorithm>

#include "daemon/food/phase.hpp"

namespace ingle::schedule {
namespace {

// The band of a stage, narrowed to its top.
std::optional<Settings> at_the_top(Settings const& settings, int dish, std::size_t stage) {
    auto changed = settings;
    auto const& about = settings.dishes[static_cast<std::size_t>(dish)];
    auto const plan = std::ranges::find(changed.plans, about.plan, &PlanSettings::name);
    auto const stages = stages_of(settings, about);
    auto const& there = stages[stage];
    if (there.vessel < 0) return std::nullopt;
    auto const& vessel = settings.vessels[static_cast<std::size_t>(there.vessel)];
    auto const band = there.settings->band ? there.settings->band : vessel.band;
    if (!band || !there.settings->until.core || !is_heated(phase_of(*there.settings, &vessel)))
        return std::nullopt;
    plan->stages[stage].band = Band{band->high, band->high};
    return changed;
}

// What is left of the stage that runs, were its medium at the top of its band from now on: its forecast in
// the share that heat conduction says of both.
std::optional<Running> warmer(Wanted const& wanted, Running now, StageOfDish const& stage) {
    constexpr double worth_telling_k = 1;
    auto const& settings = wanted.settings;
    auto const& vessel = settings.vessels[static_cast<std::size_t>(stage.vessel)];
    auto const& band = stage.settings->band ? stage.settings->band : vessel.band;
    if (!now.core_c || !now.medium_c || now.over || *now.medium_c > band->high.celsius - worth_telling_k)
        return std::nullopt;
    auto as_it_is = *stage.settings, at_top = as_it_is;
    as_it_is.band = Band{{*now.medium_c}, {*now.medium_c}};
    at_top.band = Band{band->high, band->high};
    auto const length = [&](StageSettings const& in) {
        return left_of({settings.dishes[static_cast<std::size_t>(now.dish)], in, &vessel, *now.core_c}, {},
                       {.core_c = now.core_c});
    };
    auto const before = length(as_it_is), after = length(at_top);
    if (!after.known || !before.known || before.likely <= 0) return std::nullopt;
    for (auto* left : {&now.left_s, &now.left_low_s, &now.left_high_s})
        if (*left) *left = **left * after.likely / before.likely;
    return now;
}

}  // namespace

std::vector<Hotter> hotter_mediums(Wanted const& wanted, DishJob const& dish) {
    std::vector<Hotter> out;
    auto const& settings = wanted.settings;
    auto const stages = stages_of(settings, settings.dishes[static_cast<std::size_t>(dish.dish)]);
    for (std::size_t i = dish.first; i < stages.size(); ++i) {
        auto const changed = at_the_top(settings, dish.dish, i);
        if (!changed) continue;
        Wanted hotter{*changed, wanted.zone, wanted.at, wanted.running, wanted.past, wanted.zone_known};
        if (dish.began && i == dish.first) {
            auto const running = std::ranges::find(hotter.running, dish.dish, &Running::dish);
            auto const made = warmer(wanted, *running, stages[i]);
            if (!made) continue;
            *running = *made;
        }
        auto job = job_of(hotter, dish.dish);
        auto const place = i - dish.first;
        bool const helps =
            job && job->impossible.empty() &&
            (!dish.impossible.empty() || job->job.tasks[place].least < dish.job.tasks[place].least);
        if (!helps) continue;
        auto const& vessel = settings.vessels[static_cast<std::size_t>(stages[i].vessel)];
        auto const& band = stages[i].settings->band ? stages[i].settings->band : vessel.band;
        job->job.tasks[place].band = band;
        out.push_back({std::move(*job), "keep " + vessel.name + " near " +
                                            show(band->high, settings.units, 0) + " in stage " +
                                            stages[i].settings->name + ", which its band allows"});
    }
    return out;
}

}  // namespace ingle::schedule
