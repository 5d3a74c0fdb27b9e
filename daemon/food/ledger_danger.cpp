// The danger zone: how long the core was in it, being heated, being cooled, or neither.
#include <algorithm>

#include "daemon/food/ledger_impl.hpp"
#include "daemon/food/ledger_words.hpp"

namespace ingle {
namespace {

// Early words need some evidence: this part of the limit is used up.
constexpr double early_heating_share = 0.5, early_idle_share = 0.75;
// Slower than this a core is not on its way anywhere, K/s.
constexpr double moving_k_per_s = 1.0 / 3600;
constexpr std::string_view unless_it_was_known =
    "Throw it away unless you know that it was cold, or hot, all that time.";

}  // namespace

CoreTrack const* FoodLedger::Impl::longest_idle() const {
    CoreTrack const* found = nullptr;
    for (auto const& core : cores)
        if (core.seen() && (!found || core.danger.idle_possible_s() > found->danger.idle_possible_s()))
            found = &core;
    return found;
}

// Longer on its way to being hot than the rule allows, as measured, and not there.
bool FoodLedger::Impl::not_heated_through() const {
    return !target_met() && std::ranges::any_of(cores, [&](auto const& core) {
        return core.seen() && core.danger.heated_measured_s() > heating_limits().front().most_s;
    });
}

// By which published rule it is to be thrown away, as measured; nothing that was only possible counts.
bool FoodLedger::Impl::discard() const {
    if (!food->perishable) return false;
    return std::ranges::any_of(cores, [&](auto const& core) {
        if (!core.seen()) return false;
        auto const again = core.reheating.answer(now, core.blind(now, context()));
        return core.danger.idle_surely_too_long() || again == ReheatAnswer::missed ||
               core.cold.last_day().measured_s(now) > warm_most_s ||
               cooling_answer(core) == CoolingAnswer::missed;
    });
}

Verdict FoodLedger::Impl::danger() const {
    auto const& zone = danger_zones().front();
    Verdict v{"danger-zone", "unknown", "", text(zone.source)};
    if (!food->perishable) {
        v.answer = "not-applicable";
        v.text = text(food->means) + ": keeps without a fridge.";
        return v;
    }
    CoreTrack const* worst = nullptr;
    for (auto const& core : cores) {
        auto const possible = [&](CoreTrack const& c) { return c.danger_possible_s(now, context()); };
        if (!worst || possible(core) > possible(*worst)) worst = &core;
    }
    if (!worst || !worst->seen()) {
        v.text = worst ? not_read_words()
                       : text(
                             "Not known: the dish has no core probe; what the food itself had would have to "
                             "be read.");
        return v;
    }
    auto const& danger = worst->danger;
    double const measured = worst->danger_measured_s(now, context());
    double const possible = worst->danger_possible_s(now, context());
    v.answer = span(measured);
    v.text = "Core between " + celsius(zone.low_c()) + " and " + celsius(zone.high_c()) + ": measured " +
             span(measured);
    if (possible > measured + 1) {
        v.text += "; with what was not read it may have been " + span(possible);
        v.answer = possible < unbounded_s ? span(measured) + " to " + span(possible) : "unknown";
    }
    if (worst->beside_cold_s() > 0) v.text += "." + beside_words();
    v.text += (worst->beside_cold_s() > 0 ? " In stages of heating " : ". In stages of heating ") +
              span(danger.heated_possible_s()) +
              (possible > measured + 1 ? ", as far as it is not known to be less" : " of it") + " (by " +
              text(heating_limits().front().source) + "), neither heated nor cooled " +
              span(danger.idle_possible_s()) + " (at most " + span(zone.most_s);
    if (danger.idle_hot_room_s() > 0)
        v.text += "; " + span(danger.idle_hot_room_s()) + " of it in air above 90 degF, where it is " +
                  span(zone.most_hot_room_s);
    v.text += "). Also: " + text(danger_zones()[1].source) + "; " + text(heating_limits()[1].source) + ".";
    auto const* idle = longest_idle();
    if (idle->danger.idle_surely_too_long() || idle->danger.idle_hot_too_long() || not_heated_through())
        v.answer = "missed: " + v.answer;
    return v;
}

// Of food that is not read: its air was too warm, or not hot enough, for so long that the food may have been.
FoodConcern FoodLedger::Impl::air_concern() const {
    constexpr std::string_view alarm = "danger-zone";
    auto const& zone = danger_zones().front();
    if (!medium_c || air_in_zone_s <= zone.most_s) return cores.empty() ? none(alarm) : unknown(alarm);
    return orders(
        yes(alarm, Priority::medium, *medium_c,
            "The air around the food was between " + celsius(zone.low_c()) + " and " +
                celsius(zone.high_c()) + " for " + span(air_in_zone_s) + " in all; for food it is at most " +
                span(zone.most_s) + " (" + text(zone.source) + "). The food itself was not measured."),
        Action::none, "Measure the food now; if it was as warm as its air, it is to be thrown away.");
}

FoodConcern FoodLedger::Impl::danger_concern() const {
    constexpr std::string_view alarm = "danger-zone";
    if (!food->perishable) return none(alarm);
    auto const* longest = longest_idle();
    if (!longest) return air_concern();
    auto const& danger = longest->danger;
    auto const& zone = danger.zone();
    double const idle = danger.idle_possible_s(), last = longest->last_c();
    bool const hot_room = danger.idle_hot_too_long() && !danger.idle_surely_too_long();
    std::string const between = "between " + celsius(zone.low_c()) + " and " + celsius(zone.high_c());
    std::string const limit = span(hot_room ? zone.most_hot_room_s : zone.most_s);
    if (danger.idle_surely_too_long() || hot_room)
        return throw_away(yes(alarm, Priority::high, last,
                              "The core was " + between + " for " +
                                  span(hot_room ? danger.idle_hot_room_s() : danger.idle_measured_s()) +
                                  " in all, without being heated through or cooled in that time" +
                                  (hot_room ? ", in air above 90 degF" : "") + "; at most " + limit + " by " +
                                  text(zone.source) + ". It is at " + celsius(last) + "."));
    if (danger.idle_too_long())
        return orders(
            yes(alarm, Priority::medium, last,
                "The core may have been " + between + " for " + span(idle) +
                    " (what was not read at its worst; measured " + span(danger.idle_measured_s()) +
                    "), at most " + limit + " by " + text(zone.source) + ". It is at " + celsius(last) + "."),
            Action::discard, unless_it_was_known);
    auto const* core = deciding();
    if (!core || core->blind(now, context())) return unknown(alarm);
    double const c = core->last_c();
    if (c <= zone.low_c() || c >= zone.high_c() || core->cooling.in_time(now) || discard())
        return none(alarm);
    auto const slope = core->recent.slope();
    auto const where = celsius(c) + " at the core. ";
    if (!is_heated(phase) || core->reheating.active() || core->cooling.running()) {
        bool const waits = phase == FoodPhase::waiting || phase == FoodPhase::resting ||
                           (is_heated(phase) && !core->reheating.active());
        if (!waits || idle < early_idle_share * zone.most_s) return none(alarm);
        return orders(yes(alarm, Priority::medium, c,
                          where + "It was " + between + " for " + span(idle) +
                              " without being heated or cooled; after " + span(zone.most_s) +
                              " it is thrown away (" + text(zone.source) + ")."),
                      Action::none, "Chill it or heat it through now.");
    }
    return heating_concern(*core, slope, where + "It was " + between);
}

// On its way up, and too slowly.
FoodConcern FoodLedger::Impl::heating_concern(CoreTrack const& core, std::optional<double> slope,
                                              std::string const& where) const {
    constexpr std::string_view alarm = "danger-zone";
    auto const& zone = core.danger.zone();
    auto const& limit = heating_limits().front();
    double const heated = core.danger.heated_possible_s(), c = core.last_c();
    bool const falls = slope && *slope < -moving_k_per_s;
    std::string const counted = core.danger.possible_s() > core.danger.measured_s() + 1
                                    ? " (counting what was not read at its worst)"
                                    : "";
    std::string const so_far = where + " for " + span(heated) + counted;
    // What falls is not being heated: whether it is to be, only the cook knows.
    auto const advise = [&](FoodConcern concern, std::string_view rising) {
        return falls ? orders(std::move(concern), Action::none,
                              "It is falling: heat it through, or chill it fast.")
                     : orders(std::move(concern), Action::raise_heat, rising);
    };
    // What was heated through and falls is being cooled: from there on the cooling limits are what it has.
    if (falls && target_met()) return none(alarm);
    if (heated > limit.most_s && falls) {
        auto over = yes(alarm, Priority::high, c,
                        so_far + ", and it is falling without having been heated through; after " +
                            span(limit.most_s) + " it is thrown away (" + text(limit.source) + ").");
        return core.danger.measured_s() > limit.most_s
                   ? throw_away(std::move(over))
                   : orders(std::move(over), Action::discard, unless_it_was_known);
    }
    if (heated > limit.most_s)
        return advise(yes(alarm, Priority::high, c,
                          so_far + " while being heated; at most " + span(limit.most_s) + " by " +
                              text(limit.source) + "."),
                      "More heat brings it through sooner.");
    if (!slope || heated < early_heating_share * limit.most_s) return none(alarm);
    double const left = *slope > 1e-6 ? (zone.high_c() - c) / *slope : 1e9;
    if (heated + left <= limit.most_s) return none(alarm);
    return advise(
        yes(alarm, Priority::medium, c,
            so_far + ", and at the present " + show(TemperatureDifference{*slope * 3600}, settings.units) +
                " an hour it will not pass " + show(Temperature{zone.high_c()}, settings.units, 0) +
                " within " + span(limit.most_s) + " (" + text(limit.source) + ")."),
        "Raise the heat.");
}

}  // namespace ingle
