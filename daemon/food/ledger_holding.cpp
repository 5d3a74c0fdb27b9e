// Kept hot and kept cold: by the core where there is one, else by the air around it, which is not the food.
#include <algorithm>
#include <limits>

#include "daemon/food/ledger_impl.hpp"
#include "daemon/food/ledger_words.hpp"

namespace ingle {
namespace {

// A refrigerator cycles and is opened: its air may be above the limit for this long, a core for less.
constexpr double cold_air_s = 1800, cold_core_s = 600;
constexpr double blind_core_s = 1800;              // our judgement
constexpr double reheat_within_s = reheat_most_s;  // FDA Food Code 3-403.11(D)
constexpr double never = std::numeric_limits<double>::infinity();

}  // namespace

// What the time since the last reading may add.
double FoodLedger::Impl::unread_beyond(CoreTrack const& core, Holding const& held, bool hot) const {
    if (!held.held() || !core.blind(now, context())) return 0;
    double const wrong = hot ? held.limit_c() - 10 : held.limit_c() + 10;
    double const inside = hot ? held.limit_c() - 0.01 : held.limit_c() + 0.01;
    return possible_seconds_between(
        core.unseen(now, std::min(wrong, inside), std::max(wrong, inside), context()),
        hot ? -never : held.limit_c(), hot ? held.limit_c() : never);
}

Verdict FoodLedger::Impl::held_by_air(bool hot) const {
    auto const& air = hot ? medium_hot : medium_cold;
    auto const limits = hot ? hot_hold_limits() : cold_hold_limits();
    Verdict v{hot ? "hot-hold" : "cold-hold", "", "", text(limits.front().source)};
    double possible = air.beyond_possible_s() + ((hot ? hot_unmeasured : cold_unmeasured) ? unbounded_s : 0);
    if (air.held() && now - medium_t > context().longest_s) possible += now - medium_t;
    double const measured = air.beyond_s();
    std::string const side = hot ? "below " : "above ";
    v.answer = measured > 0 ? "missed" : possible > 0 ? "unknown" : "food not measured";
    v.text = measured > 0 || possible > 0
                 ? "Around the food: measured " + span(measured) + " " + side + celsius(air.limit_c())
                 : "Around the food: never " + side + celsius(air.limit_c()) + ", all the time";
    if (air.worst_c()) v.text += ", at worst " + celsius(*air.worst_c());
    if (possible > measured + 1) v.text += "; with what was not read it may have been " + span(possible);
    v.text += ". The food itself was not measured: a probe in it would have to be read. Also: " +
              text(limits[1].source) + ".";
    return v;
}

// In a stage that chills, a tip that was cold from its first reading on may lie beside the food.
bool FoodLedger::Impl::not_seen_to_cool(CoreTrack const& core) const {
    return phase == FoodPhase::chilling && core.seen() && core.cold.ever() &&
           core.peak_c() <= core.cold.limit_c();
}

double FoodLedger::Impl::beside_cold_s() const {
    double most = 0;
    for (auto const& core : cores) most = std::max(most, core.beside_cold_s());
    return most;
}

std::string FoodLedger::Impl::beside_words() const {
    auto const* core = &cores.front();
    for (auto const& one : cores)
        if (one.beside_cold_s() > core->beside_cold_s()) core = &one;
    return " For " + span(core->beside_cold_s()) +
           " the tip was as cold as what is around the food, and neither was above " +
           celsius(core->beside_cold_c()) + ": the food itself was not measured then.";
}

std::optional<Verdict> FoodLedger::Impl::holding(bool hot) const {
    if (!food->perishable) return std::nullopt;
    auto const limits = hot ? hot_hold_limits() : cold_hold_limits();
    Holding const* worst = nullptr;
    double possible = 0;
    bool cold_from_start = false;
    for (auto const& core : cores) {
        if (!core.seen()) continue;
        auto const& held = hot ? core.hot : core.cold;
        double const all = held.beyond_possible_s() + unread_beyond(core, held, hot);
        if (held.ever() && (!worst || all > possible)) {
            worst = &held;
            possible = all;
        }
        cold_from_start = cold_from_start || not_seen_to_cool(core);
    }
    auto const& medium = hot ? medium_hot : medium_cold;
    if (!worst && cores.empty() && medium.ever() && medium_c) return held_by_air(hot);
    Verdict v{hot ? "hot-hold" : "cold-hold", "unknown", "", text(limits.front().source)};
    bool const asked = hot ? phase == FoodPhase::hot_holding : is_held_cold(phase);
    if (!worst || (unread_core() && asked)) {
        if (!asked) return std::nullopt;
        if (medium.ever() && medium_c) {
            v = held_by_air(hot);
            if (v.answer == "food not measured") v.answer = "unknown";
            return v;
        }
        v.text = "Not known: neither the core nor what is around it was read while it was held.";
        return v;
    }
    double const measured = worst->beyond_s();
    bool const bare = std::ranges::any_of(cores, &CoreTrack::bare);
    bool const unseen = !hot && cold_from_start;
    bool const beside = !hot && beside_cold_s() > 0;
    v.answer = measured > 0 ? "missed" : possible > 0 || bare || unseen || beside ? "unknown" : "met";
    v.text =
        "Core: measured " + span(measured) + text(hot ? " below " : " above ") + celsius(worst->limit_c());
    if (worst->came_from_c())
        v.text += " since it had come down to that, from " + celsius(*worst->came_from_c()) +
                  " when its holding began";
    if (worst->worst_c()) v.text += ", at worst " + celsius(*worst->worst_c());
    if (possible > measured + 1)
        v.text += "; with what was not read it may have been " + span(possible) +
                  (v.answer == "unknown" ? ": every reading of that time would be needed" : "");
    v.text += ".";
    if (bare) v.text += " " + not_read_words();
    if (beside) v.text += beside_words();
    if (unseen) v.text += " It was not seen to cool: it may be the air around the food that was read.";
    v.text += " Also: " + text(limits[1].source) + ".";
    return v;
}

// Cold food above the limit for more than 2 h within a day, by measured and by possible time.
std::optional<Verdict> FoodLedger::Impl::cold_day() const {
    if (!food->perishable) return std::nullopt;
    CoreTrack const* worst = nullptr;
    for (auto const& core : cores)
        if (core.seen() && core.cold.ever() &&
            (!worst || core.cold.last_day().possible_s(now) > worst->cold.last_day().possible_s(now)))
            worst = &core;
    if (!worst) return std::nullopt;
    auto const& day = worst->cold.last_day();
    double const measured = day.measured_s(now),
                 possible = day.possible_s(now) + unread_beyond(*worst, worst->cold, false);
    Verdict v{"cold-hold-2h", "", "", text(warm_most_source)};
    // Put there warm, it has 4 h to be cold (3-501.14(B)); until it is, nothing is met.
    auto const& held = worst->cold;
    bool const warm_still = !held.reached() && held.beyond_possible_s() > warm_most_s;
    v.answer = measured > warm_most_s || (warm_still && held.beyond_s() > made_warm_cold_within_s) ? "missed"
               : possible > warm_most_s || warm_still || worst->bare() || not_seen_to_cool(*worst) ||
                       worst->beside_cold_s() > warm_most_s
                   ? "unknown"
                   : "met";
    v.text = "Within the last 24 h above " + celsius(worst->cold.limit_c()) + ": measured " + span(measured);
    if (possible > measured + 1) v.text += ", with what was not read possibly " + span(possible);
    v.text += "; at most " + span(warm_most_s) + ".";
    if (worst->cold.came_from_c()) v.text += " Its way down to that, by the rule of cooling, does not count.";
    if (warm_still) v.text += " It was not at the limit since it was put there.";
    return v;
}

std::string FoodLedger::Impl::hole_words(Holding const& held) const {
    if (held.hole_s() <= 0) return "";
    return " Before that nothing was read for " + span(held.hole_s()) + ", so that it may have been " +
           span(held.spell_possible_s(now)) + ".";
}

FoodConcern FoodLedger::Impl::hot_concern() const {
    constexpr std::string_view alarm = "hot-hold";
    if (!food->perishable || phase != FoodPhase::hot_holding) return none(alarm);
    auto const* core = deciding();
    // What has not been read for long is judged by what is around it, if that is read.
    bool const by_core = core && (!fresh_medium() || now - core->last_t() < blind_core_s);
    // Good surroundings say nothing of a core that is not read.
    auto const well = [&] { return core && !by_core ? unknown(alarm) : none(alarm); };
    auto const& held = by_core ? core->hot : medium_hot;
    if (by_core ? core->blind(now, context()) : !fresh_medium()) return unknown(alarm);
    double const c = by_core ? core->last_c() : *medium_c;
    if (c >= held.limit_c() - rounding_k) return well();
    double const waited = now - held.began_s(), spell = held.spell_s(now);
    if (!held.reached() && waited <= reheat_within_s && held.hole_s() <= 0) return well();
    auto const& code = hot_hold_limits()[1];
    std::string const measured = (by_core ? "Core " : "Around the food ") + celsius(c) + ", below " +
                                 celsius(held.limit_c()) + " for " + span(spell) + " (" +
                                 text(hot_hold_limits().front().source) + "; " + text(code.source) + ")." +
                                 hole_words(held) + (by_core ? "" : " The food itself is not measured.");
    bool const too_late = spell > warm_most_s || discard() || (!held.reached() && waited > reheat_within_s);
    if (by_core && too_late)
        return throw_away(yes(
            alarm, Priority::high, c,
            measured + (held.reached() ? "" : " It was not hot within 2 h: " + text(reheat_source) + ".")));
    if (held.spell_possible_s(now) > warm_most_s)
        return orders(yes(alarm, Priority::high, c, measured), Action::discard,
                      "Throw it away unless you know that the food was hot: more than 2 h is too long (" +
                          text(danger_zones().front().source) + ").");
    if (c >= code.celsius())
        return orders(yes(alarm, Priority::medium, c, measured), Action::raise_heat, "Raise the heat.");
    return orders(yes(alarm, Priority::high, c, measured), Action::reheat,
                  "Heat it to " + celsius(reheat_c) + " for " + span(reheat_hold_s) +
                      " within 2 h of its fall (" + text(reheat_source) +
                      "), or throw it away: warming it to the limit again is not enough.");
}

FoodConcern FoodLedger::Impl::cold_concern() const {
    constexpr std::string_view alarm = "cold-hold";
    bool const chilling = phase == FoodPhase::chilling;
    if (!food->perishable) return none(alarm);
    if (!chilling && !is_held_cold(phase)) return none(alarm);
    auto const* core = deciding();
    bool const by_core = core && (!fresh_medium() || now - core->last_t() < blind_core_s);
    // Good surroundings say nothing of a core that is not read.
    auto const well = [&] { return core && !by_core ? unknown(alarm) : none(alarm); };
    if (chilling && !by_core) return well();  // the air of a room that chills says nothing
    auto const& held = by_core ? core->cold : medium_cold;
    if (by_core ? core->blind(now, context()) : !fresh_medium()) return unknown(alarm);
    if (by_core && core->cooling.under_way() && !held.reached()) return well();  // the cooling rule has it
    double const c = by_core ? core->last_c() : *medium_c;
    if (by_core)
        if (auto day = warm_day_concern(*core)) return *day;
    if (c <= held.limit_c() + rounding_k) return well();
    bool const cooked = by_core && core->cooling.cooked();
    double const most = by_core ? cold_core_s : cold_air_s;
    bool const hole = held.hole_s() > 0 && held.spell_possible_s(now) >= most;
    // What came down by its cooling rule was cold in time, though not yet as cold as it is to be held.
    bool const in_time = by_core && core->cooling.running() &&
                         (cooling_answer(*core) == CoolingAnswer::met || core->cooling.was_in_time(now));
    bool const late = !held.reached() && !in_time && now - held.began_s() > made_warm_cold_within_s;
    bool const too_long = held.reached() ? held.spell_s(now) >= most || hole : late || hole;
    if (!too_long) return well();
    std::string what = (by_core ? "Core " : "Around the food ") + celsius(c) + ", above " +
                       celsius(held.limit_c()) + " for " + span(held.spell_s(now)) + " (" +
                       text(cold_hold_limits().front().source) + "; " + text(cold_hold_limits()[1].source) +
                       ")." + hole_words(held);
    if (late)
        what += " It was not cold in time: " + text(cooked ? rule->source : made_warm_source) +
                (cooked ? ": " + text(rule->summary) : "") + ".";
    if (held.beyond_possible_s() > held.beyond_s() + 1)
        what += " In all " + span(held.beyond_s()) + " above it measured, " + span(held.beyond_possible_s()) +
                " possible with what was not read.";
    if (by_core && fresh_medium()) what += " Around it " + celsius(*medium_c) + ".";
    if (!by_core) what += " The food itself is not measured.";
    auto concern = yes(alarm, Priority::high, c, std::move(what));
    concern.at_once = hole;
    if (discard() || (by_core && late)) return throw_away(std::move(concern));
    return orders(std::move(concern), Action::chill, "Get it colder.");
}

std::optional<FoodConcern> FoodLedger::Impl::warm_day_concern(CoreTrack const& core) const {
    auto const& day = core.cold.last_day();
    double const measured = day.measured_s(now), possible = day.possible_s(now);
    if (possible <= warm_most_s) return std::nullopt;
    bool const surely = measured > warm_most_s;
    std::string what = "Core " + celsius(core.last_c()) + ". Within the last 24 h it " +
                       (surely ? "was" : "may have been") + " above " + celsius(core.cold.limit_c()) +
                       " for " + span(surely ? measured : possible);
    if (possible > measured + 1)
        what += " (" + span(measured) + " measured, " + span(possible) + " possible with what was not read)";
    what += "; at most " + span(warm_most_s) + " (" + text(warm_most_source) + ")." + hole_words(core.cold);
    auto concern = yes("cold-hold", surely ? Priority::high : Priority::medium, core.last_c(), what);
    concern.at_once = true;
    if (surely) return throw_away(std::move(concern));
    return orders(std::move(concern), Action::discard,
                  "Throw it away unless you know that it was cold all that time.");
}

}  // namespace ingle
