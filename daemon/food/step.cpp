#include "daemon/food/step.hpp"

#include <algorithm>
#include <cmath>

namespace ingle {

double Step::highest_possible() const {
    double const ends = std::max(c0, c1);
    if (!gap) return ends;
    double const peak = from_unknown ? c1 + fastest * length() : (c0 + c1 + fastest * length()) / 2;
    return std::max(ends, std::min(peak, high_cap));
}

double Step::lowest_possible() const {
    double const ends = std::min(c0, c1);
    if (!gap) return ends;
    double const trough = from_unknown ? c1 - fastest * length() : (c0 + c1 - fastest * length()) / 2;
    return std::min(ends, std::max(trough, low_cap));
}

double Step::earliest(double level) const {
    if (!gap) return crossing(level);
    if (from_unknown) return t0;
    return std::min(crossing(level), t0 + std::abs(c0 - level) / fastest);
}

double Step::latest(double level) const {
    if (!gap) return crossing(level);
    double const last = t1 - std::abs(c1 - level) / fastest;
    return from_unknown ? std::max(t0, last) : std::max(crossing(level), last);
}

double seconds_between(Step const& step, double low_c, double high_c) {
    if (step.gap) return 0;
    double const lower = std::min(step.c0, step.c1), upper = std::max(step.c0, step.c1);
    if (lower == upper) return low_c < lower && lower < high_c ? step.length() : 0;
    double const inside = std::min(upper, high_c) - std::max(lower, low_c);
    return inside <= 0 ? 0 : step.length() * inside / (upper - lower);
}

double seconds_at_or_above(Step const& step, double level_c) {
    if (step.gap) return 0;
    double const level = level_c - rounding_k;
    double const lower = std::min(step.c0, step.c1), upper = std::max(step.c0, step.c1);
    if (lower >= level) return step.length();
    return upper < level ? 0 : step.length() * (upper - level) / (upper - lower);
}

double possible_seconds_between(Step const& step, double low_c, double high_c) {
    if (!step.gap) return seconds_between(step, low_c, high_c);
    if (step.lowest_possible() >= high_c || step.highest_possible() <= low_c) return 0;
    auto const way = [&](double c) { return std::max({0.0, c - high_c, low_c - c}) / step.fastest; };
    return std::max(0.0, step.length() - (step.from_unknown ? 0 : way(step.c0)) - way(step.c1));
}

double longest_step_s(std::span<FoodSample const> series) {
    std::vector<double> apart;
    for (std::size_t i = 1; i < series.size(); ++i) apart.push_back(series[i].t_s - series[i - 1].t_s);
    if (apart.empty()) return 60;
    auto const middle = apart.begin() + static_cast<std::ptrdiff_t>(apart.size() / 2);
    std::nth_element(apart.begin(), middle, apart.end());
    return std::max(60.0, 3 * *middle);
}

std::vector<Step> steps_of(std::span<FoodSample const> series) {
    std::vector<Step> steps;
    double const longest = longest_step_s(series);
    FoodSample const* before = nullptr;
    for (auto const& sample : series) {
        if (!sample.celsius) continue;
        if (before && sample.t_s > before->t_s)
            steps.push_back({before->t_s, *before->celsius, sample.t_s, *sample.celsius,
                             sample.after_gap || sample.t_s - before->t_s > longest + 1e-6});
        before = &sample;
    }
    return steps;
}

}  // namespace ingle
