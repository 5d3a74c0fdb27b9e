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

}  // namespace

std::vector<Hotter> hotter_mediums(Wanted const& wanted, DishJob const& dish) {
    std::vector<Hotter> out;
    auto const& settings = wanted.settings;
    auto const stages = stages_of(settings, settings.dishes[static_cast<std::size_t>(dish.dish)]);
    for (std::size_t i = dish.began ? dish.first + 1 : dish.first; i < stages.size(); ++i) {
        auto const changed = at_the_top(settings, dish.dish, i);
        if (!changed) continue;
        Wanted hotter{*changed, wanted.zone, wanted.at, wanted.running, wanted.past, wanted.zone_known};
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
