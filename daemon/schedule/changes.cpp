#include "daemon/schedule/changes.hpp"

#include <algorithm>

#include "config/no_vessel.hpp"

namespace ingle::schedule {
namespace {

constexpr int day_min = 1440;

}  // namespace

std::size_t Changed::stages_kept(int dish) const {
    return dish == changed_dish_ ? kept_ : std::numeric_limits<std::size_t>::max();
}

PlanSettings& Changed::own_plan(int dish, std::size_t stage) {
    auto& about = settings_.dishes[static_cast<std::size_t>(dish)];
    auto own = *std::ranges::find(settings_.plans, about.plan, &PlanSettings::name);
    own.name = about.plan = about.plan + " of " + about.name;
    own.stage_vessels.resize(own.stages.size());
    changed_dish_ = dish, kept_ = stage;
    return settings_.plans.emplace_back(std::move(own));
}

void Changed::serve_at(int dish, Seconds t) {
    settings_.dishes[static_cast<std::size_t>(dish)].serve_at = t * 1000;
}

void Changed::put_into(int dish, std::size_t stage, int vessel) {
    auto& plan = own_plan(dish, stage);
    plan.stages[stage].vessel = vessel;
    plan.stage_vessels[stage] = settings_.vessels[static_cast<std::size_t>(vessel)].name;
    std::erase_if(past_, [&](Past const& one) { return one.dish == dish && one.stage == stage; });
}

void Changed::set_band(int dish, std::size_t stage, Band band) {
    own_plan(dish, stage).stages[stage].band = band;
}

void Changed::no_hands(int dish, std::size_t stage) {
    auto& plan = own_plan(dish, stage);
    plan.stages[stage].hands.reset();
    kept_ = plan.stages.size();
}

void Changed::add_stage(int dish, StageSettings stage, std::string_view vessel) {
    auto& plan = own_plan(dish, 0);
    kept_ = plan.stages.size();
    stage.vessel = vessel == no_vessel ? -1 : number_of(settings_.vessels, vessel);
    plan.stages.push_back(std::move(stage));
    plan.stage_vessels.emplace_back(vessel);
}

void Changed::longer_day(bool evening, Seconds by) {
    if (!settings_.awake) return;
    auto& awake = *settings_.awake;
    auto const minutes = static_cast<int>(by / 60);
    int const length = (awake.to - awake.from + day_min) % day_min;
    if (length + minutes >= day_min) return settings_.awake.reset();
    auto& edge = evening ? awake.to : awake.from;
    edge = (edge + (evening ? minutes : day_min - minutes)) % day_min;
}

Running* Changed::running(int dish) {
    auto const found = std::ranges::find(running_, dish, &Running::dish);
    return found == running_.end() ? nullptr : &*found;
}

}  // namespace ingle::schedule
