// What the watches of a dish need to know each second. Texts are only built where there is something to say.
#include <algorithm>

#include "daemon/food/ledger_impl.hpp"

namespace ingle {
namespace {

// Early words need some evidence: this long since the clock started, this part of the limit used up.
constexpr double early_cooling_s = 600, early_heating_share = 0.5;
// A refrigerator cycles and is opened: its air may be above the limit for this long, a core for less.
constexpr double cold_air_s = 1800, cold_core_s = 600;
constexpr double reheat_within_s = 2 * 3600.0;  // FDA Food Code 3-403.11(D)
constexpr double look_ahead_s = 300;            // for overshoot
constexpr double target_seen_s = 10;            // a pinched cable shows the target for a moment

FoodConcern none(std::string_view alarm) {
    FoodConcern concern;
    concern.alarm = alarm;
    return concern;
}
FoodConcern unknown(std::string_view alarm) {
    auto concern = none(alarm);
    concern.truth = Holds::unknown;
    return concern;
}
FoodConcern yes(std::string_view alarm, double value, std::string text) {
    auto concern = none(alarm);
    concern.truth = Holds::yes;
    concern.value = value;
    concern.text = std::move(text);
    return concern;
}

}  // namespace

FoodConcern FoodLedger::Impl::danger_concern() const {
    constexpr std::string_view alarm = "danger-zone";
    if (!food_known || cores.empty()) return none(alarm);
    auto const* core = deciding();
    if (!core) return unknown(alarm);
    auto const& danger = core->danger;
    auto const& zone = danger.zone();
    if (core->blind(now, context())) return unknown(alarm);
    double const c = core->last_c();
    if (c <= zone.low_c() || c >= zone.high_c() || core->cooling.under_way()) return none(alarm);
    auto const where =
        celsius(c) + " at the core. Between " + celsius(zone.low_c()) + " and " + celsius(zone.high_c());
    auto const possible = [](double measured, double possibly) {
        return possibly > measured + 1 ? " (counting what was not read at its worst)" : "";
    };
    if (!is_heated(phase)) {
        double const idle = danger.idle_possible_s();
        if (idle <= zone.most_s) return none(alarm);
        return yes(alarm, c,
                   where + " for " + span(idle) + possible(danger.measured_s(), danger.possible_s()) +
                       " without being heated or cooled; at most " + span(zone.most_s) + " by " +
                       std::string(zone.source) + ". Chill it or heat it now.");
    }
    auto const& limit = heating_limits().front();
    double const heated = danger.heated_possible_s();
    if (heated > limit.most_s)
        return yes(alarm, c,
                   where + " for " + span(heated) + possible(danger.measured_s(), danger.possible_s()) +
                       " while being heated; at most " + span(limit.most_s) + " by " +
                       std::string(limit.source) + ". More heat brings it through sooner.");
    auto const slope = core->recent.slope();
    if (!slope || heated < early_heating_share * limit.most_s) return none(alarm);
    double const left = *slope > 1e-6 ? (zone.high_c() - c) / *slope : 1e9;
    if (heated + left <= limit.most_s) return none(alarm);
    return yes(alarm, c,
               where + " for " + span(heated) + ", and at the present " +
                   show(TemperatureDifference{*slope * 3600}, settings.units) +
                   " an hour it will not be through within " + span(limit.most_s) + " (" +
                   std::string(limit.source) + "). Raise the heat.");
}

FoodConcern FoodLedger::Impl::cooling_concern() const {
    constexpr std::string_view alarm = "cooling-late";
    if (!food_known || cores.empty()) return none(alarm);
    auto const* core = slowest_to_cool();
    if (!core || !core->seen()) return unknown(alarm);
    auto const& clock = core->cooling;
    auto const next = clock.next_stage();
    if (!clock.under_way()) return none(alarm);
    double to_c = 0, deadline = 0;
    auto const ahead = outlook(*core, to_c, deadline);
    auto const limit = "to be at " + celsius(to_c) + " within " + span(rule->stages[next].most_s) + " (" +
                       std::string(rule->source) + ": " + std::string(rule->summary) + ")";
    constexpr std::string_view help =
        " Divide it into shallow pans or smaller pieces, set them in an ice bath and stir.";
    if (cooling_answer(*core) == CoolingAnswer::missed) {
        bool const whole = rule->stages[next].from_start || next == 0;
        std::string const since = whole ? " after it fell through " + celsius(clock.start_limit_c()) : "";
        double const ran = clock.stage(next, now, false).took_least_s;
        auto concern =
            yes(alarm, core->last_c(),
                "A cooling limit was missed: the core is at " + celsius(core->last_c()) + " " + span(ran) +
                    since + "; it had " + limit + ". Chill it fast if it is to be kept at all;" +
                    " the time it took stands in the review.");
        concern.priority = Priority::high;
        return concern;
    }
    if (core->blind(now, context())) return unknown(alarm);
    double const left = deadline - now, ran = now - clock.start_latest_s();
    if (ran < early_cooling_s || !ahead) return none(alarm);
    // A tenth of doubt: the forecast is no better, and one that hovers at the limit would come and go.
    bool const late = ahead->eta_s ? *ahead->eta_s > 1.1 * left : core->recent.span_s() >= early_cooling_s;
    if (!late) return none(alarm);
    std::string when = ahead->eta_s ? "at the present rate it gets there in " + span(*ahead->eta_s) + ", " +
                                          span(*ahead->eta_s - left) + " too late"
                                    : ahead->why;
    return yes(alarm, core->last_c(),
               "Core " + celsius(core->last_c()) + ", " + span(ran) + " after it fell through " +
                   celsius(clock.start_limit_c()) + "; it has " + limit + ": " + when + "." +
                   std::string(help));
}

FoodConcern FoodLedger::Impl::hot_concern() const {
    constexpr std::string_view alarm = "hot-hold";
    if (phase != FoodPhase::hot_holding) return none(alarm);
    auto const* core = deciding();
    bool const by_core = core != nullptr;
    auto const& held = by_core ? core->hot : medium_hot;
    if (by_core ? core->blind(now, context()) : !fresh_medium()) return unknown(alarm);
    double const c = by_core ? core->last_c() : *medium_c;
    if (c >= held.limit_c() - rounding_k) return none(alarm);
    double const waited = now - held.began_s();
    if (!held.reached() && waited <= reheat_within_s) return none(alarm);
    auto const source =
        std::string(hot_hold_limits().front().source) + "; " + std::string(hot_hold_limits()[1].source);
    return yes(alarm, c,
               (by_core ? "Core " : "Around the food ") + celsius(c) + ", below " + celsius(held.limit_c()) +
                   " for " + span(held.spell_s(now)) + " (" + source + ")." +
                   (held.reached() ? " Heat it up again."
                                   : " It was not hot within 2 h: FDA Food Code 3-403.11(D)."));
}

FoodConcern FoodLedger::Impl::cold_concern() const {
    constexpr std::string_view alarm = "cold-hold";
    bool const chilling = phase == FoodPhase::chilling;
    if (!chilling && !is_held_cold(phase)) return none(alarm);
    auto const* core = deciding();
    bool const by_core = core != nullptr;
    if (chilling && !by_core) return none(alarm);  // the air of a room that chills says nothing
    auto const& held = by_core ? core->cold : medium_cold;
    if (by_core ? core->blind(now, context()) : !fresh_medium()) return unknown(alarm);
    if (by_core && core->cooling.under_way() && !held.reached())
        return none(alarm);  // the cooling rule has it
    double const c = by_core ? core->last_c() : *medium_c;
    if (c <= held.limit_c() + rounding_k) return none(alarm);
    bool const too_long = held.reached() ? held.spell_s(now) >= (by_core ? cold_core_s : cold_air_s)
                                         : now - held.began_s() > made_warm_cold_within_s;
    if (!too_long) return none(alarm);
    std::string text = (by_core ? "Core " : "Around the food ") + celsius(c) + ", above " +
                       celsius(held.limit_c()) + " for " + span(held.spell_s(now)) + " (" +
                       std::string(cold_hold_limits().front().source) + "; " +
                       std::string(cold_hold_limits()[1].source) + ").";
    if (!held.reached()) text += " It was not cold in time: " + std::string(made_warm_source) + ".";
    if (held.beyond_possible_s() > held.beyond_s() + 1)
        text += " In all " + span(held.beyond_s()) + " above it measured, " + span(held.beyond_possible_s()) +
                " possible with what was not read.";
    if (by_core && fresh_medium()) text += " Around it " + celsius(*medium_c) + ".";
    return yes(alarm, c, std::move(text));
}

FoodConcern FoodLedger::Impl::overshoot_concern() const {
    constexpr std::string_view alarm = "overshoot-risk";
    if (!core_limit_c || cores.empty()) return none(alarm);
    CoreTrack const* hottest = nullptr;
    for (auto const& core : cores)
        if (core.seen() && (!hottest || core.last_c() > hottest->last_c())) hottest = &core;
    if (!hottest || hottest->blind(now, context())) return unknown(alarm);
    double const c = hottest->last_c(), slope = hottest->recent.slope().value_or(0);
    if (c > *core_limit_c)
        return yes(alarm, c,
                   "Core " + celsius(c) + ", above the stage's limit of " + celsius(*core_limit_c) + ".");
    if (slope <= 0 || c + slope * look_ahead_s <= *core_limit_c) return none(alarm);
    return yes(alarm, c,
               "Core " + celsius(c) + ", rising " + show(TemperatureDifference{slope * 60}, settings.units) +
                   " a minute: past the stage's limit of " + celsius(*core_limit_c) + " in " +
                   span((*core_limit_c - c) / slope) +
                   ". It goes on rising for a while after it leaves the heat.");
}

FoodConcern FoodLedger::Impl::target_concern() const {
    constexpr std::string_view alarm = "core-target";
    if (cores.empty() || (!stage_target_c && food->targets.empty())) return none(alarm);
    if (is_cold_phase(phase)) return none(alarm);
    auto const* core = deciding();
    if (!core || unread_core()) return unknown(alarm);
    if (core->cooling.running()) return none(alarm);  // that was told; it is cold food now
    if (stage_target_c) {
        bool const all =
            std::ranges::all_of(cores, [&](auto const& one) { return one.at_stage_target(*stage_target_c); });
        if (!all) return none(alarm);
        std::string text =
            "Core " + celsius(core->last_c()) + ": the plan's " + celsius(*stage_target_c) + " is reached.";
        if (!food->targets.empty() && !target_met())
            text += " That is not yet " + celsius(food->targets.front().celsius()) + " for " +
                    span(food->targets.front().hold_s) + " (" + std::string(food->targets.front().source) +
                    ").";
        return yes(alarm, core->last_c(), std::move(text));
    }
    auto const& target = food->targets.front();
    bool const all = std::ranges::all_of(cores, [&](auto const& one) {
        return one.peak_c() >= target.celsius() - rounding_k && one.at_class_target_s() >= target_seen_s;
    });
    if (!all) return none(alarm);
    std::string text = "Core " + celsius(core->last_c()) + ": " + celsius(target.celsius()) + " is reached";
    double const held = std::ranges::min(cores, {}, &CoreTrack::at_class_target_s).at_class_target_s();
    if (held < target.hold_s)
        text += ", for " + span(held) + " so far of " + span(target.hold_s) +
                (target.rest ? " (resting counts)" : "");
    return yes(alarm, core->last_c(), text + " (" + std::string(target.source) + ").");
}

}  // namespace ingle
