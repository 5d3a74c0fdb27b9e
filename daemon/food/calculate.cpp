#include "daemon/food/calculate.hpp"

#include <algorithm>
#include <cmath>

#include "config/quantity.hpp"
#include "daemon/food/core_evidence.hpp"
#include "daemon/food/core_track.hpp"
#include "daemon/food/danger_zone.hpp"

namespace ingle {
namespace {

// From the first moment of a series to its first reading, where nothing is known; empty: it was read at once.
std::optional<Step> unread_before(std::span<FoodSample const> series) {
    auto const first = std::ranges::find_if(series, [](auto const& one) { return one.celsius.has_value(); });
    if (first == series.end() ||
        first->t_s - series.front().t_s <= std::max(60.0, longest_step_s(series) / 2))
        return std::nullopt;
    Step step{series.front().t_s, *first->celsius, first->t_s, *first->celsius, true};
    step.from_unknown = true;
    return step;
}

// From the last reading to the end: it may have gone into the zone and stayed there.
std::optional<Step> unread_after(std::span<FoodSample const> series, ZoneLimits const& zone) {
    auto const last =
        std::find_if(series.rbegin(), series.rend(), [](auto const& one) { return one.celsius.has_value(); });
    if (last == series.rend() || series.back().t_s - last->t_s <= longest_step_s(series)) return std::nullopt;
    double const c = std::clamp(*last->celsius, zone.low_c() + 0.01, zone.high_c() - 0.01);
    return Step{last->t_s, *last->celsius, series.back().t_s, c, true};
}

// No table covers this game: only its core target credits what stands in for it.
bool game_is_open(std::span<Step const> steps, FoodClass const& food) {
    if (!food.trichinella_game || food.targets.empty()) return false;
    auto const& target = food.targets.front();
    double held = 0, peak = -1000;
    for (auto const& step : steps) {
        held += seconds_at_or_above(step, target.celsius());
        peak = std::max(peak, step.highest_possible());
    }
    return held < target.hold_s || peak < target.celsius() - rounding_k;
}

// Each limit by itself may be met, and the answer is none the better for it.
std::string why_not_met(SeriesCooling const& cooling) {
    auto const& clock = cooling.clock;
    if (cooling.answer == CoolingAnswer::met) return "";
    std::string text;
    if (clock.missed_before()) text += "; missed once already, before it was heated again";
    if (clock.carried_most_s() > 0)
        text += "; before that it was already below the upper limit for " +
                show(Duration{clock.carried_most_s()}) + " and was warmed again, without 165 degF within 4 h";
    if (clock.warm_again_s() > 0 || clock.warm_now())
        text += "; after that it was above the last limit again, for " + show(Duration{clock.warm_again_s()});
    if (clock.unseen()) text += "; it may have been hot, or have cooled, while it was not read";
    return text;
}

}  // namespace

std::vector<FoodSample> core_samples(std::span<FoodSample const> series, FoodPhase phase,
                                     FoodClass const* food, std::span<FoodSample const> medium,
                                     std::optional<Length> thickness, bool from_below, double boiling_c,
                                     std::optional<Shape> shape) {
    std::vector<FoodSample> samples;
    CoreEvidence evidence{thickness, food, boiling_c, shape};
    std::optional<double> around;
    auto next = medium.begin();
    for (auto const& sample : series) {
        for (; next != medium.end() && next->t_s < sample.t_s; ++next) around = next->celsius;
        samples.push_back({sample.t_s, std::nullopt, false});
        if (sample.celsius)
            evidence.take(sample.t_s, *sample.celsius, false, phase, around);
        else
            evidence.advance(sample.t_s);
    }
    for (auto const& judged : evidence.take_judged()) {
        if (judged.back_to)
            for (auto& one : samples)
                if (one.t_s > *judged.back_to) one.celsius.reset();
        if (judged.doubt != CoreDoubt::none && !judged.voids) continue;
        auto const place = std::ranges::lower_bound(samples, judged.t, {}, &FoodSample::t_s);
        if (judged.new_place || judged.voids)  // what was read before was not the centre
            for (auto before = samples.begin(); before != place; ++before) before->celsius.reset();
        if (judged.voids) continue;
        place->celsius = judged.celsius;
        place->after_gap = judged.after_move;
    }
    if (!from_below || !food || food->targets.empty()) return samples;
    double const target = food->targets.front().celsius() - rounding_k;
    double const below = evidence.shown() ? target : target + rounding_k - seen_to_rise_k;
    bool first = true;  // one reading alone is worth nothing
    for (auto& sample : samples) {
        if (!sample.celsius) continue;
        if (*sample.celsius < below) break;
        if (!first || *sample.celsius >= target) sample.celsius.reset();
        first = false;
    }
    return samples;
}

SeriesLethality lethality_of(std::span<FoodSample const> series, FoodClass const& food) {
    SeriesLethality all;
    all.source = food.lethality_source;
    all.caution = food.lethality_caution;
    Lethality sum(food);
    DangerZone danger(danger_zones().front());
    for (auto const& sample : series)
        if (sample.celsius) all.peak_c = std::max(all.peak_c.value_or(*sample.celsius), *sample.celsius);
    auto steps = steps_of(series);
    if (auto const before = unread_before(series)) steps.insert(steps.begin(), *before);
    if (auto const after = unread_after(series, danger.zone())) steps.push_back(*after);
    for (auto const& step : steps) {
        sum.add(step);
        danger.add(step, Care::none);
        if (step.gap) all.gap_s += step.length();
    }
    all.come_up_s = sum.come_up_s();
    all.come_up_possible_s = sum.come_up_possible_s();
    all.danger_s = danger.measured_s();
    all.danger_possible_s = danger.possible_s();
    if (!all.peak_c) {
        all.why = "there is no reading";
        return all;
    }
    all.row = sum.row_fulfilled();
    all.computed_log10 = sum.computed_log10();
    all.log10 = sum.credited_log10();
    if (!all.log10) {
        all.why = food.lethality_caution;
    } else if (game_is_open(steps, food)) {
        all.log10 = 0;
        all.why = "nothing is credited: no table covers this game, and only " +
                  show(Temperature{food.targets.front().celsius()}, TemperatureUnit::fahrenheit) +
                  " at the core decides, which was not read; its figure (computed_log10) is of another meat";
    } else if (!sum.within_conditions()) {
        all.why = "nothing is credited: the come-up from 50 to 130 degF took or may have taken " +
                  show(Duration{all.come_up_possible_s}) + ", and the source allows 6 h";
    } else {
        all.why =
            "lethal rate integrated along straight lines between the readings; time without readings counts "
            "as "
            "nothing";
    }
    return all;
}

std::string cooling_sentence(SeriesCooling const& cooling, TemperatureUnit units) {
    auto const& clock = cooling.clock;
    auto const& rule = clock.rule();
    auto const celsius = [&](double c) { return show(Temperature{c}, units); };
    std::string text(rule.summary);
    if (!clock.running() && cooling.answer == CoolingAnswer::missed)
        return text + ": missed once already, before it was heated again";
    if (!clock.running())
        return text + ": " +
               (cooling.answer == CoolingAnswer::unknown
                    ? "its cooling was not seen; readings that no core has do not count"
                    : "the core never fell through the upper limit after cooking");
    bool const seen = std::isfinite(clock.start_earliest_s());
    text +=
        seen ? ": through " + celsius(clock.start_limit_c()) + " at " + show(Duration{clock.start_latest_s()})
             : ": below " + celsius(clock.start_limit_c()) + " before the first reading";
    for (std::size_t i = 0; i < rule.stages.size(); ++i) {
        auto const state = clock.stage(i, cooling.end_s, false);
        if (!state.passed && i > clock.next_stage() && !rule.stages[i].from_start) continue;
        text += ", to " + celsius(rule.stages[i].to_c()) +
                (state.passed ? " in " + show(Duration{std::max(0.0, state.took_least_s)})
                              : " not seen to be reached");
        if (state.passed && seen && state.took_most_s - state.took_least_s > 1)
            text += " to " + show(Duration{state.took_most_s});
    }
    return text + why_not_met(cooling);
}

}  // namespace ingle
