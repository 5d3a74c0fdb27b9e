// How a vessel answered: its way up, its swing, its recoveries. What the record does not show stays empty.
#include <algorithm>
#include <cmath>

#include "daemon/review/at.hpp"
#include "daemon/review/facts.hpp"

namespace ingle {
namespace {

constexpr double settled_for_s = 900;
constexpr double moved_k = 1;
constexpr double longest_swing_s = 900;
constexpr std::size_t fewest_swings = 4;

std::optional<double> median(std::vector<double> values) {
    if (values.empty()) return std::nullopt;
    auto const middle = values.begin() + static_cast<std::ptrdiff_t>(values.size() / 2);
    std::nth_element(values.begin(), middle, values.end());
    return *middle;
}

void way_up(ResponseFacts& response, BandFacts const& band, CookSeries const& series) {
    auto const first = std::ranges::lower_bound(series.samples, band.from, {}, &CookSample::t);
    if (first == series.samples.end() || !band.reached_s || *band.reached_s < 1) return;
    double const reached = band.from + *band.reached_s;
    response.warm_from_c = first->celsius;
    response.warm_to_c = value_at(series, reached);
    response.warm_s = *band.reached_s;
    if (response.warm_to_c)
        response.rate_k_per_min = (*response.warm_to_c - first->celsius) / (*band.reached_s / 60);
    for (auto sample = first; sample != series.samples.end() && sample->t <= reached; ++sample) {
        if (std::abs(sample->celsius - first->celsius) < moved_k) continue;
        response.lag_s = sample->t - band.from;
        break;
    }
}

// From first reaching the band until it stayed inside for a quarter of an hour.
void settling(ResponseFacts& response, BandFacts const& band) {
    if (!band.reached_s) return;
    double const reached = band.from + *band.reached_s;
    double since = reached;
    for (auto const& excursion : band.excursions) {
        if (excursion.from - since >= settled_for_s) break;
        since = excursion.to;
    }
    if (band.to - since >= settled_for_s) response.settle_s = since - reached;
}

// The middle nine tenths of the readings, and how often they pass the mean with some decision.
void swing(ResponseFacts& response, BandFacts const& band, CookSeries const& series) {
    if (!band.reached_s || !band.mean_c || !band.deviation_k) return;
    std::vector<double> values, rising;
    bool high = false, known = false;
    for (auto const& sample : series.samples) {
        if (sample.t < band.from + *band.reached_s || sample.t > band.to) continue;
        // A fire that went out is no swing.
        if (std::ranges::any_of(band.excursions, [&](Excursion const& one) {
                return one.from <= sample.t && sample.t <= one.to && one.seconds() > longest_swing_s;
            }))
            continue;
        values.push_back(sample.celsius);
        double const off = sample.celsius - *band.mean_c;
        if (off > *band.deviation_k / 2) {
            if (known && !high) rising.push_back(sample.t);
            high = known = true;
        } else if (off < -*band.deviation_k / 2) {
            high = false;
            known = true;
        }
    }
    if (values.size() < 20) return;
    std::ranges::sort(values);
    response.swing_k = values[values.size() * 95 / 100] - values[values.size() * 5 / 100];
    std::vector<double> periods;
    for (std::size_t i = 1; i < rising.size(); ++i) periods.push_back(rising[i] - rising[i - 1]);
    auto const period = median(periods);
    if (periods.size() < fewest_swings || !period) return;
    // A thermostat is regular; a cook at the knob is not.
    auto const regular =
        std::ranges::count_if(periods, [&](double one) { return std::abs(one - *period) < 0.35 * *period; });
    if (static_cast<std::size_t>(regular) * 3 >= periods.size() * 2) response.period_s = period;
}

}  // namespace

std::vector<ResponseFacts> response_facts(CookRecord const& record, CookFacts const& facts) {
    std::vector<ResponseFacts> all;
    for (auto const& vessel : record.vessels) {
        ResponseFacts response;
        response.vessel = vessel.name;
        BandFacts const* longest = nullptr;
        for (auto const& band : facts.bands) {
            if (band.vessel != vessel.name) continue;
            if (!response.warm_s) way_up(response, band, vessel.medium);
            if (!longest || band.to - band.from > longest->to - longest->from) longest = &band;
        }
        if (longest) {
            settling(response, *longest);
            swing(response, *longest, vessel.medium);
        }
        std::vector<double> recoveries, constants;
        for (auto const& door : facts.doors) {
            if (door.vessel != vessel.name) continue;
            if (door.recovery_s) recoveries.push_back(*door.recovery_s);
            if (door.time_constant_s) constants.push_back(*door.time_constant_s);
        }
        response.recovery_s = median(recoveries);
        response.time_constant_s = median(constants);
        all.push_back(std::move(response));
    }
    return all;
}

}  // namespace ingle
