// How hot the core became: the class's target, a reheating, and what the stage allows at most.
#include <algorithm>

#include "daemon/food/ledger_impl.hpp"
#include "daemon/food/ledger_words.hpp"

namespace ingle {
namespace {

constexpr double look_ahead_s = 300;  // for overshoot
constexpr double target_seen_s = 10;  // a pinched cable shows the target for a moment
constexpr double early_reheat_share = 0.5;
constexpr double still_rising_k = 3;  // this close to its peak, it is on its way up

}  // namespace

std::string FoodLedger::Impl::from_above_words() const {
    bool const fell = std::ranges::any_of(cores, &CoreTrack::came_from_above) &&
                      std::ranges::all_of(cores, &CoreTrack::began_below_target);
    return fell ? " since it fell below that. It was above it from its first reading on: whether it was the "
                  "core "
                  "that had come to it was not seen."
                : ": it was never read below that, and may be what is around the food.";
}

std::string FoodLedger::Impl::asked_words(CoreTarget const& target) const {
    std::string asked = celsius(target.celsius()) + " at the core";
    if (target.hold_s > 0) asked += ", for " + span(target.hold_s) + (target.rest ? " with the rest" : "");
    return asked;
}

CoreTarget const* FoodLedger::Impl::target() const {
    if (!food->targets.empty()) return &food->targets.front();
    bool const kept_hot = phase == FoodPhase::hot_holding ||
                          std::ranges::any_of(cores, [](auto const& core) { return core.hot.ever(); });
    return kept_hot && !food->hot_hold_targets.empty() ? &food->hot_hold_targets.front() : nullptr;
}

bool FoodLedger::Impl::target_met() const {
    auto const* asked = target();
    if (!asked || cores.empty() || stuffing_unread()) return false;
    return std::ranges::all_of(cores, [&](CoreTrack const& core) {
        return core.seen() && core.began_below_target() &&
               core.passage_peak_c() >= asked->celsius() - rounding_k &&
               (asked->hold_s == 0 || core.at_class_target_s() + 1e-6 >= asked->hold_s);
    });
}

// FSIS, Stuffing and Food Safety: the stuffing itself. Of the class "stuffed" the core is the stuffing's.
bool FoodLedger::Impl::stuffing_unread() const {
    auto const& done = settings.dish.preparation;
    return food->name != "stuffed" && cores.size() < 2 && std::ranges::find(done, "stuffed") != done.end();
}

bool FoodLedger::Impl::on_its_way_up(CoreTrack const& core) const {
    return is_heated(phase) && !core.blind(now, context()) &&
           core.last_c() > core.passage_peak_c() - still_rising_k;
}

Verdict FoodLedger::Impl::core_target() const {
    Verdict v{"core-target", "not-applicable", "", ""};
    if (!food_known) {
        v.answer = "unknown";
        v.text =
            "The food's class is not said, so no core temperature is asked for. To know it, give the dish a "
            "food class.";
        return v;
    }
    auto const* asked = target();
    if (!asked) {
        v.text = "No published minimum core temperature is given for " + text(food->means) + ".";
        for (auto const& hot : food->hot_hold_targets)
            v.text += " Cooked to be kept hot: " + celsius(hot.celsius()) + " (" + text(hot.source) + ").";
        return v;
    }
    v.source = asked->source;
    std::string also;
    for (auto const& other : food->targets.subspan(std::min<std::size_t>(1, food->targets.size()))) {
        also += (also.empty() ? " Other sources: " : "; ") + celsius(other.celsius());
        if (other.hold_s > 0) also += " for " + span(other.hold_s);
        also += " (" + text(other.source) + ")";
    }
    if (!also.empty()) also += ".";
    v.text = "Asked: " + asked_words(*asked) + ".";
    auto const least = std::ranges::min_element(
        cores, {}, [](auto const& core) { return core.seen() ? core.passage_peak_c() : -1e9; });
    if (cores.empty() || !least->seen()) {
        v.answer = "unknown";
        v.text +=
            " " +
            (cores.empty() ? "Not known: the dish has no core probe; the coldest place would have to be read."
                           : not_read_words()) +
            also;
        return v;
    }
    auto const held = std::ranges::min(cores, {}, &CoreTrack::at_class_target_s).at_class_target_s();
    bool const met = target_met();
    bool const from_above = !met && std::ranges::any_of(cores, [](auto const& core) {
        return !core.began_below_target() || core.came_from_above();
    });
    bool const may_have = least->gap_s(now, context()) > 0 &&
                          least->peak_possible_c(now, context()) >= asked->celsius() - rounding_k;
    bool const no_tip = stuffing_unread() && least->passage_peak_c() >= asked->celsius() - rounding_k;
    bool const unread = from_above || may_have || no_tip;
    v.answer = met                     ? "met"
               : unread                ? "unknown"
               : on_its_way_up(*least) ? "not reached so far"
                                       : "not reached";
    v.text += " Measured: up to " + celsius(least->passage_peak_c()) + ", " + span(held) + " at or above " +
              celsius(asked->celsius());
    if (least->reheating.ever())
        v.text += ", since it is heated again; cooked before to " + celsius(least->peak_c());
    v.text +=
        met ? (cores.size() == 1 ? ". One probe read it: a colder place elsewhere is not ruled out." : ".")
        : no_tip ? ". The stuffing itself was not read: a second tip in the middle of it would have to be."
        : from_above ? from_above_words()
        : unread     ? ": not seen, and for " + span(least->gap_s(now, context())) + " it was not read."
                     : ": " + v.answer + ".";
    v.text += also;
    return v;
}

std::optional<Verdict> FoodLedger::Impl::reheating() const {
    CoreTrack const* worst = nullptr;
    for (auto const& core : cores) {
        if (!core.reheating.ever()) continue;
        if (!worst || core.reheating.peak_c() < worst->reheating.peak_c()) worst = &core;
    }
    if (!worst || !food->perishable) return std::nullopt;
    auto const& again = worst->reheating;
    Verdict v{"reheating", "", "", text(reheat_source)};
    auto const answer = again.answer(now, worst->blind(now, context()));
    v.answer = again.missed_before() && answer == ReheatAnswer::met ? "missed" : text(to_word(answer));
    v.text = "Heated again: asked " + celsius(reheat_c) + " for " + span(reheat_hold_s) + " within " +
             span(reheat_most_s) + ". Measured: up to " + celsius(again.peak_c()) + ", " +
             span(again.held_s()) + " at or above " + celsius(reheat_c);
    std::string const least = span(again.took_least_s(now)), most = span(again.took_most_s(now));
    v.text += (again.reached() ? "; it took " : "; it has taken ") +
              (least == most ? most : least + " to " + most) + ".";
    if (again.missed_before()) v.text += " An earlier reheating of this food did not come to it in time.";
    if (answer == ReheatAnswer::unknown)
        v.text += " Not known: for a time it was not read; every reading from 41 degF on would be needed.";
    return v;
}

// Late, or about to be: told while there is still something that helps, and again when it is too late.
FoodConcern FoodLedger::Impl::reheat_concern() const {
    constexpr std::string_view alarm = "reheat-late";
    if (!food->perishable || cores.empty()) return none(alarm);
    CoreTrack const* worst = nullptr;
    for (auto const& core : cores)
        if (core.reheating.ever() && (!worst || core.reheating.peak_c() < worst->reheating.peak_c()))
            worst = &core;
    if (!worst) return none(alarm);
    auto const& again = worst->reheating;
    auto const answer = again.answer(now, worst->blind(now, context()));
    std::string const told = "Core " + celsius(worst->last_c()) + ", heated again for " +
                             span(again.took_most_s(now)) + " and not at " + celsius(reheat_c) +
                             " so far; it has " + span(reheat_most_s) + " (" + text(reheat_source) + ").";
    if (answer == ReheatAnswer::missed || (answer == ReheatAnswer::unknown && again.missed_before()))
        return throw_away(yes(alarm, Priority::high, worst->last_c(),
                              again.reached() ? "The core came to " + celsius(reheat_c) + " only after " +
                                                    span(again.took_least_s(now)) + "; it had " +
                                                    span(reheat_most_s) + " (" + text(reheat_source) + ")."
                                              : told));
    bool const blind = worst->blind(now, context());
    if (answer == ReheatAnswer::unknown && !blind && again.active() && !again.reached() &&
        again.took_least_s(now) > reheat_most_s)
        return orders(yes(alarm, Priority::high, worst->last_c(), told + " For a time it was not read."),
                      Action::discard, "Throw it away unless you know that it was that hot in time.");
    if (answer == ReheatAnswer::not_reached && !worst->cooling.under_way() && !is_cold_phase(phase))
        return yes(alarm, Priority::medium, worst->last_c(),
                   "Core " + celsius(worst->last_c()) + ": heated again up to " + celsius(again.peak_c()) +
                       " only, and falling. " + celsius(reheat_c) + " for " + span(reheat_hold_s) +
                       " is asked of it (" + text(reheat_source) + ").");
    if (answer != ReheatAnswer::open || again.took_most_s(now) < early_reheat_share * reheat_most_s)
        return answer == ReheatAnswer::unknown ? unknown(alarm) : none(alarm);
    auto const slope = worst->recent.slope();
    double const left = slope && *slope > 1e-6 ? (reheat_c - worst->last_c()) / *slope : 1e9;
    if (again.took_most_s(now) + left <= reheat_most_s) return none(alarm);
    return discard() ? none(alarm)
                     : orders(yes(alarm, Priority::medium, worst->last_c(), told), Action::reheat,
                              "Heat it faster.");
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
        return yes(alarm, Priority::medium, c,
                   "Core " + celsius(c) + ", above the stage's limit of " + celsius(*core_limit_c) + ".");
    if (slope <= 0 || c + slope * look_ahead_s <= *core_limit_c) return none(alarm);
    return yes(alarm, Priority::medium, c,
               "Core " + celsius(c) + ", rising " + show(TemperatureDifference{slope * 60}, settings.units) +
                   " a minute: past the stage's limit of " + celsius(*core_limit_c) + " in " +
                   span((*core_limit_c - c) / slope) +
                   ". It goes on rising for a while after it leaves the heat.");
}

// What the class asks for beyond a target of the plan's own; "" if that is met.
std::string FoodLedger::Impl::class_asks_more(double reached_c) const {
    auto const* asked = target();
    // A target of chilling says nothing of the heat.
    if (!asked || target_met() || phase == FoodPhase::chilling || is_held_cold(phase)) return "";
    if (asked->celsius() <= reached_c + rounding_k && asked->hold_s == 0) return "";
    std::string const what = asked->celsius() > reached_c + rounding_k
                                 ? "That is not yet " + celsius(asked->celsius())
                                 : celsius(asked->celsius()) + " is asked";
    return " " + what + (asked->hold_s > 0 ? " for " + span(asked->hold_s) : "") + " (" +
           text(asked->source) + ").";
}

// A tip that slides outwards slowly while the food heats reads what a middle could read, only sooner.
std::string FoodLedger::Impl::one_tip_words() const {
    return cores.size() == 1 ? " One probe read it: measure a second place before it counts as done." : "";
}

FoodConcern FoodLedger::Impl::target_concern() const {
    constexpr std::string_view alarm = "core-target";
    auto const* asked = target();
    if (cores.empty() || (!stage_target_c && !asked)) return none(alarm);
    if (is_cold_phase(phase)) return none(alarm);
    auto const* core = deciding();
    if (!core || unread_core()) return unknown(alarm);
    if (core->cooling.running()) return none(alarm);  // that was told; it is cold food now
    // Warmed again, it is not done by what it once came to.
    if (!stage_target_c && std::ranges::any_of(cores, &CoreTrack::fell_since_target)) return none(alarm);
    double const value = core->last_c();
    if (stage_target_c) {
        bool const all =
            std::ranges::all_of(cores, [&](auto const& one) { return one.at_stage_target(*stage_target_c); });
        if (!all) return none(alarm);
        if (!std::ranges::all_of(cores, [&](auto const& one) { return one.came_to(*stage_target_c); }))
            return unknown(alarm);
        return yes(alarm, Priority::low, value,
                   "Core " + celsius(value) + ": the plan's " + celsius(*stage_target_c) + " is reached." +
                       class_asks_more(*stage_target_c) + one_tip_words());
    }
    bool const again = std::ranges::any_of(cores, [](auto const& one) { return one.reheating.ever(); });
    double const to_c = again ? std::max(reheat_c, asked->celsius()) : asked->celsius();
    bool const all = std::ranges::all_of(cores, [&](auto const& one) {
        return one.passage_peak_c() >= to_c - rounding_k && one.at_class_target_s() >= target_seen_s &&
               (!again || !one.reheating.ever() || one.reheating.held_s() >= target_seen_s);
    });
    if (!all) return none(alarm);
    std::string what = "Core " + celsius(value) + ": " + celsius(to_c) + " is reached";
    double const held = std::ranges::min(cores, {}, &CoreTrack::at_class_target_s).at_class_target_s();
    if (held < asked->hold_s)
        what += ", for " + span(held) + " so far of " + span(asked->hold_s) +
                (asked->rest ? " (resting counts)" : "");
    return yes(alarm, Priority::low, value,
               what + " (" + text(again ? reheat_source : asked->source) + ")." + one_tip_words());
}

}  // namespace ingle
