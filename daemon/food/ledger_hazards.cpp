// What the ledger knows of the hazards of its dish: the rows that are shown, and the alarm of food that is to
// be thrown away whatever it measures now.
#include <algorithm>

#include "daemon/food/ledger_impl.hpp"
#include "daemon/food/sources.hpp"

namespace ingle {

bool FoodLedger::Impl::is_kept_cold() const {
    return phase == FoodPhase::chilling || is_held_cold(phase);
}

void FoodLedger::Impl::note_hazards(std::size_t core, std::optional<std::pair<double, double>> before,
                                    double beside_s) {
    auto const& track = cores[core];
    if (!track.seen() || (before && track.last_t() <= before->first)) return;  // it was not taken
    double const lethal_c = food->targets.empty() ? from_fahrenheit(165) : food->targets.front().celsius();
    // Begun and not read yet, it may have been as warm as it is now all the time.
    auto const [t, c] = before.value_or(std::pair(0.0, std::max(track.last_c(), from_fahrenheit(51))));
    Step step{t, c, track.last_t(), track.last_c(), track.last_t() - t > context().longest_s};
    if (beside_s > 0) {  // that long it was no warmer than what was read beside it
        step.t1 = std::max(t, step.t1 - beside_s);
        if (step.t1 - t <= context().longest_s) step.c0 = step.c1;
    }
    step.fastest = context().fastest;
    if (step.gap && is_cold_phase(phase)) step.high_cap = std::max({45.0, step.c0, step.c1});
    hazard_watch.core(core, step, lethal_c);
}

void FoodLedger::Impl::recall_hazards(std::optional<std::string> const& text) {
    auto reading = FieldVisitor::reading(text ? std::string_view(*text) : std::string_view());
    auto restored = hazard_watch;
    restored.fields(reading);
    if (text && !reading.broken())
        hazard_watch = std::move(restored);
    else
        hazard_watch.read(now, false);  // of an earlier version: until now it was read, as far as is known
}

HazardFacts FoodLedger::Impl::hazard_facts() const {
    HazardFacts facts;
    facts.food = food_known ? food : nullptr;
    facts.preparation = settings.dish.preparation;
    facts.cores = static_cast<int>(cores.size());
    facts.brined = hazard_watch.brined();
    facts.smoked = hazard_watch.smoked();
    facts.cured = food->cured || facts.has("cured") || facts.has("nitrite");
    facts.smoker_high_c = hazard_watch.smoker_high_c();
    facts.target_met = target_met();
    facts.warm_possible_s = hazard_watch.warm_possible_s();
    facts.unread_cold_s = hazard_watch.unread_cold_s(now, is_kept_cold());
    facts.cooling = cores.empty() ? CoolingAnswer::not_applicable : cooling_answer();
    facts.kept_warm_or_cooled = medium_hot.ever();
    for (auto const& core : cores) {
        if (!core.seen()) continue;
        facts.peak_c = std::min(core.peak_c(), facts.peak_c.value_or(core.peak_c()));
        facts.zone_possible_s = std::max(facts.zone_possible_s, core.danger_possible_s(now, context()));
        facts.idle_too_long = facts.idle_too_long || core.danger.idle_too_long();
        facts.kept_warm_or_cooled = facts.kept_warm_or_cooled || core.cooling.running() || core.hot.ever();
    }
    if (unread_core()) facts.peak_c.reset();
    return facts;
}

std::vector<Verdict> FoodLedger::Impl::hazard_rows() const {
    std::vector<Verdict> all;
    for (auto const* hazard : hazards_of(hazard_facts()))
        all.push_back({"hazard", std::string(hazard->id), hazard_sentence(*hazard, settings.units),
                       hazard_sources(*hazard)});
    return all;
}

// It stays until the dish ends: food does not become good again by being cold again.
FoodConcern FoodLedger::Impl::discard_concern() const {
    FoodConcern concern;
    concern.alarm = "discard";
    double const unread = hazard_watch.unread_cold_s(now, is_kept_cold());
    if (!food->perishable || unread < no_power_most_s) return concern;
    concern.truth = Holds::yes;
    concern.action = Action::discard;
    concern.value = cores.empty() || !cores.front().seen() ? medium_c.value_or(0) : cores.front().last_c();
    concern.text = "For " + span(unread) + " nothing was read of the cold that it stands in.";
    concern.order = "If the power was off so long, throw it away, cold again or not, and do not taste it (" +
                    std::string(food_source("outage")->title) +
                    "). If only the readings were missing and the fridge ran on, acknowledge this.";
    return concern;
}

}  // namespace ingle
