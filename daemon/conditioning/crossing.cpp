#include "daemon/conditioning/crossing.hpp"

#include <algorithm>
#include <cmath>
#include <numbers>

namespace ingle {

namespace {

constexpr int grid = 48;  // points on which a passing chance is looked for before it is refined
constexpr int halvings = 30;

// How far a slope of 1 K/s carries in h seconds, and the variance that a wandering slope adds per slope_walk:
// the integral of reach(u)² from 0 to h.
struct Reach {
    double distance, wander;
};
Reach reach(double h, double kept_per_minute) {
    if (kept_per_minute >= 1) return {h, h * h * h / 3};
    double const tau = -60.0 / std::log(kept_per_minute);
    double const x = h / tau;
    if (x < 1e-3) return {h * (1 - x / 2), h * h * h / 3 * (1 - 0.75 * x)};
    double const e = -std::expm1(-x);  // 1 - exp(-x)
    return {tau * e, tau * tau * (h - 2 * tau * e + 0.5 * tau * e * (2 - e))};
}

double chance_at(Prospect const& p, double limit, Side side, double h) {
    Normal const n = predicted(p, h);
    double const gap = side == Side::above ? n.mean - limit : limit - n.mean;
    if (n.variance <= 0) return gap > 0 ? 1 : gap < 0 ? 0 : 0.5;
    return normal_cdf(gap / std::sqrt(n.variance));
}

}  // namespace

double normal_cdf(double z) {
    return 0.5 * std::erfc(-z / std::numbers::sqrt2);
}

Prospect prospect_of(Signal const& signal, Instant now) {
    Prospect p{signal.level,          signal.slope,      signal.level_variance, signal.covariance,
               signal.slope_variance, signal.slope_walk, slope_kept_per_minute};
    double const dt = std::max(0.0, seconds(now - signal.sample_at));
    if (dt > 0) {
        p.level += dt * p.slope;
        p.level_variance += dt * (2 * p.covariance + dt * p.slope_variance) + p.slope_walk * dt * dt * dt / 3;
        p.covariance += dt * p.slope_variance + p.slope_walk * dt * dt / 2;
        p.slope_variance += p.slope_walk * dt;
    }
    return p;
}

Normal predicted(Prospect const& p, double after_s) {
    Reach const r = reach(after_s, p.kept_per_minute);
    return {p.level + r.distance * p.slope, p.level_variance + 2 * r.distance * p.covariance +
                                                r.distance * r.distance * p.slope_variance +
                                                p.slope_walk * r.wander};
}

double chance_beyond(Prospect const& from, double limit, Side side, double within_s) {
    return std::max(chance_at(from, limit, side, 0), chance_at(from, limit, side, within_s));
}

CrossingTime time_to_cross(Prospect const& from, double limit, Side side, double horizon_s,
                           double confidence) {
    // First time at which the chance reaches p. The chance need not grow all the way (a damped slope whose
    // doubt grows faster than its distance), hence the grid.
    auto const when = [&](double p) -> std::optional<double> {
        double before = 0;
        for (int i = 0; i <= grid; ++i) {
            double const part = static_cast<double>(i) / grid;
            double const t = horizon_s * part * part;  // denser near now
            if (chance_at(from, limit, side, t) < p) {
                before = t;
                continue;
            }
            double after = t;
            for (int n = 0; n < halvings && after - before > 0.01; ++n) {
                double const middle = 0.5 * (before + after);
                (chance_at(from, limit, side, middle) < p ? before : after) = middle;
            }
            return after;
        }
        return std::nullopt;
    };
    double const tail = 0.5 * (1 - confidence);
    CrossingTime time{when(0.5), when(tail), when(1 - tail)};
    if (!time.low_s) time.eta_s.reset();
    return time;
}

}  // namespace ingle
