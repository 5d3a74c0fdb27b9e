#include "daemon/forecast/simple_rules.hpp"

#include <algorithm>
#include <cmath>

namespace ingle {
namespace {

constexpr double least_slope = 0.02 / 60;  // K/s: below it nothing moves

struct Regression {
    double n = 0, st = 0, sy = 0, stt = 0, sty = 0, syy = 0;
    void add(double t, double y) { n += 1, st += t, sy += y, stt += t * t, sty += t * y, syy += y * y; }
    double spread() const { return n > 0 ? stt - st * st / n : 0; }
    double slope() const { return spread() > 0 ? (sty - st * sy / n) / spread() : 0; }
};

double middle_s(History const& history, std::size_t i) {
    return history.spacing_s() * (static_cast<double>(i) + 0.5);
}

}  // namespace

Line fit_line(History const& history, double from_s, double to_s) {
    Regression sums;
    for (std::size_t i = 0; i < history.size(); ++i) {
        double const t = middle_s(history, i);
        if (t >= from_s && t <= to_s && history.has_core(i)) sums.add(t - to_s, history.core(i));
    }
    Line line;
    line.count = static_cast<int>(sums.n);
    if (sums.n < 3 || sums.spread() <= 0) return line;
    line.slope = sums.slope();
    line.level = (sums.sy - line.slope * sums.st) / sums.n;
    double const residual =
        std::max(0.0, sums.syy - sums.sy * sums.sy / sums.n - line.slope * line.slope * sums.spread());
    // Residuals of a slow curve are not independent: never believe in more than a tenth of a kelvin.
    line.slope_error = std::sqrt(std::max(residual / sums.n, 0.01) / sums.spread());
    return line;
}

std::optional<double> straight_line(History const& history, double target_c, bool heating, double share) {
    double const sign = heating ? 1 : -1, end = history.end_s();
    auto const line = fit_line(history, (1 - share) * end, end);
    if (line.count < 3 || sign * line.slope < least_slope) return std::nullopt;
    return std::max(0.0, (target_c - line.level) / line.slope);
}

std::optional<double> approach(History const& history, double target_c, bool heating, double medium_c) {
    double const sign = heating ? 1 : -1, end = history.end_s();
    Regression sums;
    for (std::size_t i = 0; i < history.size(); ++i) {
        double const t = middle_s(history, i);
        if (t < end / 2 || !history.has_core(i)) continue;
        double const gap = sign * (medium_c - history.core(i));
        if (gap > 0) sums.add(t - end, std::log(gap));
    }
    double const rate = sums.n > 2 ? -sums.slope() : 0;
    double const gap_then = sign * (medium_c - target_c);
    if (rate <= 0 || gap_then <= 0) return std::nullopt;
    double const gap_now = std::exp((sums.sy + rate * sums.st) / sums.n);
    return std::max(0.0, std::log(gap_now / gap_then) / rate);
}

std::optional<double> mean_rule(History const& history, double target_c, bool heating, double medium_c,
                                double share) {
    auto const line = straight_line(history, target_c, heating, share);
    auto const curve = approach(history, target_c, heating, medium_c);
    if (line && curve) return (*line + *curve) / 2;
    return line ? line : curve;
}

}  // namespace ingle
