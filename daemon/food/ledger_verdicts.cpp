// The sentences: what was measured, with the numbers to redo it by hand, and whose rule it is judged by.
#include <algorithm>
#include <charconv>
#include <cmath>

#include "daemon/food/ledger_impl.hpp"
#include "daemon/food/trichinella.hpp"

namespace ingle {
namespace {

constexpr double unbounded_s = 365 * 86400.0;

std::string decimal(double value, int places) {
    char buffer[64];
    auto const end =
        std::to_chars(buffer, buffer + sizeof buffer, value, std::chars_format::fixed, places).ptr;
    return {buffer, end};
}

// Rounded down, so that 6.96 is not told as the 7.0 that was asked for; beyond 20 the figure means nothing
// more.
std::string logs(double log10) {
    return log10 > 20 ? "more than 20 log10" : decimal(std::floor(log10 * 10 + 1e-9) / 10, 1) + " log10";
}

std::string text(std::string_view view) {
    return std::string(view);
}

std::string fahrenheit(int f, TemperatureUnit units) {
    return show(Temperature{from_fahrenheit(f)}, units, units == TemperatureUnit::fahrenheit ? 0 : 1);
}

}  // namespace

std::string FoodLedger::Impl::span(double s) {
    return s >= unbounded_s || !std::isfinite(s) ? "an unknown time" : show(Duration{std::max(0.0, s)});
}

Verdict FoodLedger::Impl::core_target() const {
    Verdict v{"core-target", "not-applicable", "", ""};
    if (!food_known) {
        v.answer = "unknown";
        v.text = "The food's class is not said, so no core temperature is asked for.";
        return v;
    }
    if (food->targets.empty()) {
        v.text = "No published minimum core temperature is given for " + text(food->means) + ".";
        return v;
    }
    auto const& target = food->targets.front();
    v.source = target.source;
    std::string asked = "Asked: " + celsius(target.celsius()) + " at the core";
    if (target.hold_s > 0) asked += ", for " + span(target.hold_s) + (target.rest ? " with the rest" : "");
    asked += ".";
    std::string also;
    for (auto const& other : food->targets.subspan(1)) {
        also += (also.empty() ? " Other sources: " : "; ") + celsius(other.celsius());
        if (other.hold_s > 0) also += " for " + span(other.hold_s);
        also += " (" + text(other.source) + ")";
    }
    if (!also.empty()) also += ".";
    auto const least = std::ranges::min_element(
        cores, {}, [](auto const& core) { return core.seen() ? core.peak_c() : -1e9; });
    if (cores.empty() || !least->seen()) {
        v.answer = "unknown";
        v.text = asked + " Not known: " +
                 (cores.empty() ? "the dish has no core probe." : "a core of the dish was never read.") +
                 also;
        return v;
    }
    auto const held = std::ranges::min(cores, {}, &CoreTrack::at_class_target_s).at_class_target_s();
    bool const met = target_met();
    // Still on its way up, it has missed nothing yet: then the answer is how far it came.
    bool const rising = is_heated(phase) && least->last_c() > least->peak_c() - 3;
    v.answer = met ? "met" : rising ? celsius(least->peak_c()) : "missed";
    if (!met && least->gap_s(now, context()) > 0) v.answer = "unknown";
    v.text = asked + " Measured: up to " + celsius(least->peak_c()) + ", " + span(held) + " at or above " +
             celsius(target.celsius()) +
             (met                     ? "."
              : v.answer == "unknown" ? ": not seen, and for a time it was not read."
                                      : ": not reached so far.") +
             also;
    return v;
}

Verdict FoodLedger::Impl::lethality() const {
    Verdict v{"lethality", "not-applicable", "", text(food->lethality_source)};
    if (food->model == LethalityModel::none) {
        v.source = "covers beef, pork, lamb and poultry: " + text(fsis_guideline);
        v.text =
            food->lethality_caution.empty() ? "No lethality model is given." : text(food->lethality_caution);
        return v;
    }
    CoreTrack const* least = nullptr;
    for (auto const& core : cores) {
        if (!core.seen()) continue;
        if (!least || *core.lethality.computed_log10() < *least->lethality.computed_log10()) least = &core;
    }
    if (!least || unread_core()) {
        v.answer = "unknown";
        v.text =
            least ? "Not known: a core of the dish was never read." : "Not known: the core was never read.";
        return v;
    }
    auto const& sum = least->lethality;
    double const log10 = *sum.computed_log10();
    v.text = "Measured at the core: equivalent to " + logs(log10) +
             " by the source named; asked: " + decimal(food->target_log10, 1) + " log10.";
    if (auto const row = sum.row_fulfilled()) {
        v.text += " Its table asks for " +
                  (row->asked.printed > 0 ? span(row->asked.seconds()) : "an instant") + " at " +
                  fahrenheit(row->fahrenheit, settings.units) + "; measured " + span(row->measured_s) +
                  " at or above that.";
    }
    v.text += " Come-up from " + fahrenheit(50, settings.units) + " to " + fahrenheit(130, settings.units) +
              ": " + span(sum.come_up_s());
    if (sum.come_up_possible_s() > sum.come_up_s() + 1)
        v.text += " measured, up to " + span(sum.come_up_possible_s()) + " with what was not read";
    v.text += sum.within_conditions() ? ", within the 6 h that FSIS allows."
                                      : ": over the 6 h that FSIS allows, so nothing is credited.";
    if (!sum.within_conditions()) {
        v.answer = "unknown";
    } else {
        v.answer = logs(log10);
    }
    if (least->gap_s(now, context()) > 0) v.text += " Time without readings counts as nothing.";
    if (!food->lethality_caution.empty()) v.text += " " + text(food->lethality_caution);
    return v;
}

Verdict FoodLedger::Impl::danger() const {
    auto const& zone = danger_zones().front();
    Verdict v{"danger-zone", "unknown", "", text(zone.source)};
    CoreTrack const* worst = nullptr;
    for (auto const& core : cores) {
        auto const possible = [&](CoreTrack const& c) { return c.danger_possible_s(now, context()); };
        if (!worst || possible(core) > possible(*worst)) worst = &core;
    }
    if (!worst || !worst->seen()) {
        v.text = worst ? "Not known: the core was never read." : "Not known: the dish has no core probe.";
        return v;
    }
    double const measured = worst->danger.measured_s(), possible = worst->danger_possible_s(now, context());
    v.answer = span(measured);
    v.text = "Core between " + celsius(zone.low_c()) + " and " + celsius(zone.high_c()) + ": measured " +
             span(measured);
    if (possible > measured + 1) {
        v.text += "; with what was not read it may have been " + span(possible);
        v.answer = possible < unbounded_s ? span(measured) + " to " + span(possible) : "unknown";
    }
    v.text += ". While being heated " + span(worst->danger.heated_possible_s()) + " of it (by " +
              text(heating_limits().front().source) + "), neither heated nor cooled " +
              span(worst->danger.idle_possible_s()) + " (at most " + span(zone.most_s) +
              "). Also: " + text(danger_zones()[1].source) + "; " + text(heating_limits()[1].source) + ".";
    return v;
}

Verdict FoodLedger::Impl::cooling() const {
    Verdict v{"cooling", "", "", text(rule->source)};
    v.answer = to_word(cooling_answer());
    auto const* core = slowest_to_cool();
    if (!core || !core->seen()) {
        v.text = core ? "Not known: the core was never read." : "Not known: the dish has no core probe.";
        return v;
    }
    auto const& clock = core->cooling;
    v.text = "Rule: " + text(rule->summary) + ".";
    if (clock.missed_before()) v.text += " Missed once already, before the food was heated again.";
    if (!clock.running()) {
        v.text +=
            v.answer == "unknown"
                ? " Not known: it may have been hot, or have cooled, while it was not read."
                : " The core has not fallen through " + celsius(clock.start_limit_c()) + " after cooking.";
        return v;
    }
    bool const start_seen = std::isfinite(clock.start_earliest_s());
    if (!start_seen) {
        v.text += " It was below " + celsius(clock.start_limit_c()) + " before the first reading.";
    } else {
        v.text += " It fell through " + celsius(clock.start_limit_c()) + " " + span(clock.start_latest_s()) +
                  " after the dish was begun";
        if (clock.start_latest_s() - clock.start_earliest_s() > 1)
            v.text += ", at the earliest " + span(clock.start_earliest_s());
        v.text += ".";
    }
    bool const blind = core->blind(now, context());
    for (std::size_t i = 0; i < rule->stages.size(); ++i) {
        auto const& asked = rule->stages[i];
        auto const state = clock.stage(i, now, blind);
        if (!state.passed && i > clock.next_stage() && !asked.from_start) continue;
        std::string const least = span(state.took_least_s),
                          most = start_seen ? span(state.took_most_s) : "longer";
        std::string const took = least == most ? most : least + " to " + most;
        v.text += " To " + celsius(asked.to_c()) + ": ";
        v.text += state.passed ? "took " + took
                  : blind      ? "not seen, last read " + celsius(core->last_c())
                               : "not yet after " + took + ", now " + celsius(core->last_c());
        v.text += "; allowed " + span(asked.most_s) + ": ";
        v.text += state.answer == CoolingAnswer::met      ? "met."
                  : state.answer == CoolingAnswer::missed ? "missed."
                  : state.passed                          ? "not known."
                                                          : "open.";
    }
    return v;
}

std::optional<Verdict> FoodLedger::Impl::growth() const {
    CoreTrack const* most = nullptr;
    for (auto const& core : cores)
        if (core.seen() && core.cooling.running() && (!most || core.growth.log10() > most->growth.log10()))
            most = &core;
    if (!most || !food_known) return std::nullopt;
    auto bound = most->growth;
    if (most->blind(now, context())) bound.add(most->unseen(now, 43.5, 46.4, context()));
    double const log10 = bound.log10();
    Verdict v{"growth", "", "", text(growth_source)};
    v.answer = log10 > 20 ? "unknown" : "at most " + decimal(log10, 1) + " log10";
    v.text =
        "A warning, not a verdict: while it cooled, C. perfringens may have grown by up to " +
        (log10 > 20 ? "any amount" : decimal(log10, 1) + " log10") +
        ". This counts no lag; published predictions with lag are less than half of it, and repeated trials "
        "differ by up to 1 log10. The cooling standard for plants is 1 log10 (9 CFR 318.17).";
    return v;
}

std::optional<Verdict> FoodLedger::Impl::holding(bool hot) const {
    auto const limits = hot ? hot_hold_limits() : cold_hold_limits();
    Holding const* worst = nullptr;
    double possible = 0;
    for (auto const& core : cores) {
        if (!core.seen()) continue;
        auto const& held = hot ? core.hot : core.cold;
        double more = 0;
        if (held.held() && core.blind(now, context())) {
            double const wrong = hot ? held.limit_c() - 10 : held.limit_c() + 10;
            double const inside = hot ? held.limit_c() - 0.01 : held.limit_c() + 0.01;
            more = possible_seconds_between(
                core.unseen(now, std::min(wrong, inside), std::max(wrong, inside), context()),
                hot ? -1e9 : held.limit_c(), hot ? held.limit_c() : 1e9);
        }
        if (held.ever() && (!worst || held.beyond_possible_s() + more > possible)) {
            worst = &held;
            possible = held.beyond_possible_s() + more;
        }
    }
    auto const& medium = hot ? medium_hot : medium_cold;
    bool const by_medium = !worst && medium.ever() && medium_c;
    if (by_medium) {
        worst = &medium;
        possible = medium.beyond_possible_s();
        if (medium.held() && now - medium_t > context().longest_s) possible += now - medium_t;
    }
    Verdict v{hot ? "hot-hold" : "cold-hold", "unknown", "", text(limits.front().source)};
    if (!worst) {
        bool const asked = hot ? phase == FoodPhase::hot_holding : is_held_cold(phase);
        if (!asked) return std::nullopt;
        v.text = "Not known: neither the core nor what is around it was read while it was held.";
        return v;
    }
    double const measured = worst->beyond_s();
    v.answer = possible <= 0 ? "met" : measured > 0 ? "missed" : "unknown";
    std::string const side = hot ? "below " : "above ";
    v.text = text(by_medium ? "Around the food: " : "Core: ") + "measured " + span(measured) + " " + side +
             celsius(worst->limit_c());
    if (worst->worst_c()) v.text += ", at worst " + celsius(*worst->worst_c());
    if (possible > measured + 1) v.text += "; with what was not read it may have been " + span(possible);
    v.text += ". Also: " + text(limits[1].source) + ".";
    return v;
}

std::optional<Verdict> FoodLedger::Impl::trichinella() const {
    if (!food->trichinella_game && food->name != "fresh-ham") return std::nullopt;
    Verdict v{"trichinella", "not-applicable", "", text(trichinella_source)};
    double const peak = deciding() ? std::ranges::min(cores, {}, &CoreTrack::peak_c).peak_c() : -1000;
    auto const time = trichinella_heating(*food, peak);
    if (time.answer == TrichinellaAnswer::refused) {
        v.text = "The historic heating table for pork is " + text(time.why) + ".";
        return v;
    }
    v.answer = "unknown";
    if (time.answer == TrichinellaAnswer::below_table) {
        v.text = "Historic table for pork: its lowest row, 21 h at " + fahrenheit(120, settings.units) +
                 ", was not reached.";
        return v;
    }
    for (auto const& row : trichinella_pork) {
        auto const measured = std::ranges::min(cores, {}, [&](auto const& core) {
                                  return core.lethality.seconds_at_or_above(row.fahrenheit);
                              }).lethality.seconds_at_or_above(row.fahrenheit);
        if (row.fahrenheit < 130 || peak + rounding_k < from_fahrenheit(row.fahrenheit) ||
            measured < row.minutes * 60)
            continue;
        v.answer = "met";
        v.text = "Historic table for pork: asks " +
                 (row.minutes > 0 ? span(row.minutes * 60) : "an instant") + " at " +
                 fahrenheit(row.fahrenheit, settings.units) + "; measured " + span(measured) +
                 " at or above that.";
    }
    if (v.text.empty())
        v.text = "Historic table for pork: no row from " + fahrenheit(130, settings.units) +
                 " upward is fulfilled so far.";
    return v;
}

}  // namespace ingle
