#include "daemon/food/growth.hpp"

#include <algorithm>
#include <cmath>
#include <numbers>

namespace ingle {
namespace {

// ln of growth along a measured step: Simpson's rule on pieces of at most 5 K, which the smooth rate allows.
double along_line(Cardinal const& model, Step const& step) {
    auto const pieces = std::max(1, static_cast<int>(std::ceil(std::abs(step.c1 - step.c0) / 5)));
    double sum = 0;
    for (int i = 0; i < pieces; ++i) {
        double const from = step.c0 + (step.c1 - step.c0) * i / pieces;
        double const to = step.c0 + (step.c1 - step.c0) * (i + 1) / pieces;
        sum +=
            cardinal_rate(model, from) + 4 * cardinal_rate(model, (from + to) / 2) + cardinal_rate(model, to);
    }
    return sum / 6 * step.length() / 3600 / pieces;
}

// In a gap the core may have gone to the best temperature for growth as fast as it could, and come back.
double in_gap(Cardinal const& model, Step const& step) {
    double const low = step.lowest_possible(), high = step.highest_possible();
    double const best = std::clamp(model.t_opt, low, high);
    double const way_in = std::abs(step.c0 - best) / step.fastest,
                 way_out = std::abs(step.c1 - best) / step.fastest;
    double const stay = step.length() - way_in - way_out;
    if (stay <= 0) return cardinal_rate(model, best) * step.length() / 3600;
    return cardinal_rate(model, best) * stay / 3600 + along_line(model, {0, step.c0, way_in, best}) +
           along_line(model, {0, best, way_out, step.c1});
}

double at(std::span<FoodSample const> profile, double t) {
    auto const after = std::ranges::upper_bound(profile, t, {}, &FoodSample::t_s);
    if (after == profile.begin()) return *profile.front().celsius;
    auto const& a = *std::prev(after);
    if (after == profile.end()) return *a.celsius;
    return *a.celsius + (*after->celsius - *a.celsius) * (t - a.t_s) / (after->t_s - a.t_s);
}

}  // namespace

double cardinal_rate(Cardinal const& m, double t) {
    if (t <= m.t_min || t >= m.t_max) return 0;
    double const below = t - m.t_min;
    double const shape = (m.t_opt - m.t_min) * ((m.t_opt - m.t_min) * (t - m.t_opt) -
                                                (m.t_opt - m.t_max) * (m.t_opt + m.t_min - 2 * t));
    return m.mu_opt * (t - m.t_max) * below * below / shape;
}

void GrowthBound::add(Step const& step) {
    auto const grow = step.gap ? in_gap : along_line;
    chicken_ += grow(perfringens_chicken, step);
    beef_ += grow(perfringens_beef, step);
}

double GrowthBound::log10() const {
    return std::max(chicken_, beef_) / std::numbers::ln10;
}

void GrowthBound::fields(FieldVisitor& visit) {
    visit.number(chicken_);
    visit.number(beef_);
}

double huang_growth(HuangModel const& model, std::span<FoodSample const> profile, double until, double step) {
    double const most = model.log10_most * std::numbers::ln10;
    auto const slope = [&](double t, double y) {
        double const above = at(profile, t) - model.t_min;
        double const root = above > 0 ? model.a * std::pow(above, 0.75) : 0;
        return root * root / (1 + std::exp(-4 * (t - model.lag))) * (1 - std::exp(y - most));
    };
    double y = model.log10_start * std::numbers::ln10, t = profile.front().t_s;
    auto const count = static_cast<int>(std::llround((until - t) / step));
    for (int i = 0; i < count; ++i, t = profile.front().t_s + i * step) {
        double const k1 = slope(t, y), k2 = slope(t + step / 2, y + step / 2 * k1);
        double const k3 = slope(t + step / 2, y + step / 2 * k2), k4 = slope(t + step, y + step * k3);
        y += step / 6 * (k1 + 2 * k2 + 2 * k3 + k4);
    }
    return y / std::numbers::ln10;
}

}  // namespace ingle
