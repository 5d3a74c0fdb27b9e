// What the heat was worth: by the printed tables, by a published model, and against Trichinella.
#include <algorithm>

#include "daemon/food/ledger_impl.hpp"
#include "daemon/food/ledger_words.hpp"
#include "daemon/food/trichinella.hpp"

namespace ingle {

std::optional<double> FoodLedger::lethality_log10() const {
    auto const& in = *impl_;
    if (!in.deciding() || in.food->model == LethalityModel::none) return std::nullopt;
    if (in.unread_core()) return 0.0;
    // No table covers this game: what stands in for it says nothing of its worms, so that only the core
    // target credits it.
    if (in.food->trichinella_game && !in.target_met()) return 0.0;
    std::optional<double> least;
    for (auto const& core : in.cores)
        if (auto const log10 = core.lethality.credited_log10())
            least = std::min(least.value_or(1e300), *log10);
    return least;
}

// Of a core that was seen below its target: what never was, earns nothing by that.
bool FoodLedger::Impl::may_have_been_hotter(CoreTrack const& core) const {
    bool const unread = core.gap_s(now, context()) > 0 &&
                        core.peak_possible_c(now, context()) >= from_fahrenheit(130) - rounding_k;
    return core.began_below_target() && (unread || core.came_from_above());
}

// From 50 to 130 degF, as far as it was seen.
std::string FoodLedger::Impl::come_up_words(CoreTrack const& core) const {
    auto const& sum = core.lethality;
    bool const come_up = core.passage_peak_c() >= from_fahrenheit(130) - rounding_k;
    std::string words = " Come-up from " + fahrenheit(50, settings.units) + " to " +
                        fahrenheit(130, settings.units) + ": " + span(sum.come_up_s());
    if (sum.come_up_possible_s() > sum.come_up_s() + 1)
        words += " measured, up to " + span(sum.come_up_possible_s()) + " with what was not read";
    words += !sum.within_conditions() ? ""
             : come_up                ? ", within the 6 h that FSIS allows."
                                      : " so far, not seen at its end; FSIS allows 6 h.";
    words += sum.within_conditions() ? "" : ": over the 6 h that FSIS allows, so nothing is credited.";
    return words;
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
        v.text = least ? "Not known: a core of the dish was never read." : not_read_words();
        return v;
    }
    auto const& sum = least->lethality;
    double const credited = sum.credited_log10().value_or(0);
    bool const by_table = food->model != LethalityModel::log_linear;
    bool const game_open = food->trichinella_game && !target_met();
    v.text = "Asked: " + decimal(food->target_log10, 1) + " log10";
    auto const row = sum.row_fulfilled();
    if (row)
        v.text += ". Its table asks for " +
                  (row->asked.printed > 0 ? span(row->asked.seconds()) : "an instant") + " at " +
                  fahrenheit(row->fahrenheit, settings.units) + "; measured " + span(row->measured_s) +
                  " at or above that";
    else if (by_table)
        v.text += ". No row of its table is fulfilled so far";
    v.text += ". As a figure only, measured at the core: equivalent to " + logs(*sum.computed_log10()) +
              (by_table ? " between the rows." : " by the model named.");
    if (least->came_from_above())
        v.text += " Its come-up was not seen.";
    else
        v.text += come_up_words(*least);
    bool const enough = credited >= food->target_log10 && !game_open;
    if (!sum.within_conditions())
        v.answer = "unknown";
    else if (enough)
        v.answer = "met";
    else
        v.answer = may_have_been_hotter(*least) ? "unknown"
                   : on_its_way_up(*least)      ? "not reached so far"
                                                : "not reached";
    if (game_open) v.text += " It decides nothing here: the core target does, and is not reached.";
    if (least->gap_s(now, context()) > 0) v.text += " Time without readings counts as nothing.";
    if (!food->lethality_caution.empty()) v.text += " " + text(food->lethality_caution);
    return v;
}

std::optional<Verdict> FoodLedger::Impl::trichinella() const {
    if (!food->trichinella_game && food->name != "fresh-ham") return std::nullopt;
    Verdict v{"trichinella", "not-applicable", "", text(trichinella_source)};
    if (food->trichinella_game) {
        auto const target = core_target();
        v.answer = target.answer;
        v.source = text(trichinella_game_source);
        v.text = "What decides for the worms of game is " + asked_words(food->targets.front()) + ": " +
                 target.answer + ". The historic heating table for pork is " +
                 text(trichinella_heating(*food, 0).why) + ".";
        return v;
    }
    double const peak = deciding() ? std::ranges::min(cores, {}, &CoreTrack::peak_c).peak_c() : -1000;
    auto const time = trichinella_heating(*food, peak);
    v.answer = "unknown";
    if (time.answer == TrichinellaAnswer::refused) {
        v.text = "The historic heating table for pork is " + text(time.why) + ".";
        return v;
    }
    if (!deciding()) {
        v.text = not_read_words();
        return v;
    }
    v.answer = std::ranges::any_of(cores, [&](auto const& core) { return may_have_been_hotter(core); })
                   ? "unknown"
                   : "not reached";
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
