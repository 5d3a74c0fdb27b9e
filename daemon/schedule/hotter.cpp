#include "daemon/schedule/hotter.hpp"

#include <algorithm>

#include "daemon/food/phase.hpp"

namespace ingle::schedule {
namespace {

// The top of the band that a stage has: a kelvin of it, or as much as a deadband leaves room in.
std::optional<Band> at_the_top(Settings const& settings, StageOfDish const& there) {
    constexpr double narrow_k = 1, beside_deadband = 1.5;
    if (there.vessel < 0) return std::nullopt;
    auto const& vessel = settings.vessels[static_cast<std::size_t>(there.vessel)];
    auto const band = there.settings->band ? there.settings->band : vessel.band;
    if (!band || !there.settings->until.core || !is_heated(phase_of(*there.settings, &vessel)))
        return std::nullopt;
    auto const width = std::max(narrow_k, vessel.deadband ? beside_deadband * vessel.deadband->kelvin : 0.0);
    return Band{{std::max(band->low.celsius, band->high.celsius - width)}, band->high};
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
    auto const& about = settings.dishes[static_cast<std::size_t>(dish.dish)];
    auto const stages = stages_of(settings, about);
    for (std::size_t i = dish.first; i < stages.size(); ++i) {
        auto const top = at_the_top(settings, stages[i]);
        if (!top) continue;
        Changed change(wanted);
        change.set_band(dish.dish, i, *top);
        if (dish.began && i == dish.first) {
            auto* running = change.running(dish.dish);
            auto const made = warmer(wanted, *running, stages[i]);
            if (!made) continue;
            *running = *made;
        }
        auto const job = job_of(change.wanted(), dish.dish, {&dish, i});
        auto const place = i - dish.first;
        bool const helps =
            job && job->impossible.empty() &&
            (!dish.impossible.empty() || job->job.tasks[place].least < dish.job.tasks[place].least);
        if (!helps) continue;
        auto const& vessel = settings.vessels[static_cast<std::size_t>(stages[i].vessel)];
        out.push_back({std::move(change),
                       "keep " + vessel.name + " near " + show(top->high, settings.units, 0) + " in stage " +
                           stages[i].settings->name + " of " + about.name + ", which its band allows"});
    }
    return out;
}

}  // namespace ingle::schedule
