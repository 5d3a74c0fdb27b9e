#include "daemon/food/calculate.hpp"

#include <algorithm>
#include <cmath>

#include "config/quantity.hpp"
#include "daemon/food/core_evidence.hpp"
#include "daemon/food/danger_zone.hpp"

namespace ingle {

std::vector<FoodSample> core_samples(std::span<FoodSample const> series, FoodPhase phase,
                                     FoodClass const* food) {
    std::vector<FoodSample> samples;
    CoreEvidence evidence{std::nullopt};
    for (auto const& sample : series) {
        samples.push_back({sample.t_s, std::nullopt, false});
        if (sample.celsius)
            evidence.take(sample.t_s, *sample.celsius, false, phase, std::nullopt);
        else
            evidence.advance(sample.t_s);
    }
    for (auto const& judged : evidence.take_judged()) {
        if (judged.doubt != CoreDoubt::none) continue;
        auto const place = std::ranges::lower_bound(samples, judged.t, {}, &FoodSample::t_s);
        if (judged.new_place)  // what was read before was not the centre
            for (auto before = samples.begin(); before != place; ++before) before->celsius.reset();
        place->celsius = judged.celsius;
        place->after_gap = judged.after_move;
    }
    if (!food || food->targets.empty()) return samples;
    for (auto& sample : samples) {
        if (sample.celsius && *sample.celsius < food->targets.front().celsius() - rounding_k) break;
        sample.celsius.reset();
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
    for (auto const& step : steps_of(series)) {
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
    if (!clock.running())
        return text + ": " +
               (cooling.answer == CoolingAnswer::unknown
                    ? "the readings do not show it"
                    : "the core never fell through the upper limit after cooking");
    bool const seen = std::isfinite(clock.start_earliest_s());
    text +=
        seen ? ": through " + celsius(clock.start_limit_c()) + " at " + show(Duration{clock.start_latest_s()})
             : ": below " + celsius(clock.start_limit_c()) + " before the first reading";
    for (std::size_t i = 0; i < rule.stages.size(); ++i) {
        auto const state = clock.stage(i, cooling.end_s, false);
        if (!state.passed && i > clock.next_stage() && !rule.stages[i].from_start) continue;
        text += ", to " + celsius(rule.stages[i].to_c()) +
                (state.passed ? " in " + show(Duration{std::max(0.0, state.took_least_s)}) : " not reached");
        if (seen && state.took_most_s - state.took_least_s > 1)
            text += " to " + show(Duration{state.took_most_s});
    }
    return text;
}

}  // namespace ingle
