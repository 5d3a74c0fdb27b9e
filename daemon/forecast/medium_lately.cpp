#include "daemon/forecast/medium_lately.hpp"

#include <algorithm>
#include <cmath>

namespace ingle {
namespace {

constexpr double least_window_s = 600, least_share = 0.1;
constexpr double shortest_fade_s = 120;
// Of the squares that are left with a transient: to be believed, and where the readings do not reach far
// into its end.
constexpr double believed = 0.6, believed_early = 0.15;

struct Transient {
    double level = 0, size = 0, fades_s = 1, squares = 0;
};

// m(t) = level + size exp(-t / fades), least squares over the whole history.
Transient fit(History const& history, double fades_s) {
    double n = 0, sx = 0, sy = 0, sxx = 0, sxy = 0, syy = 0;
    for (std::size_t i = 0; i < history.size(); ++i) {
        double const t = history.spacing_s() * (static_cast<double>(i) + 0.5);
        double const x = std::exp(-t / fades_s), y = history.medium(i);
        n += 1, sx += x, sy += y, sxx += x * x, sxy += x * y, syy += y * y;
    }
    Transient one;
    one.fades_s = fades_s;
    double const spread = sxx - sx * sx / n;
    one.size = spread > 1e-9 ? (sxy - sx * sy / n) / spread : 0;
    one.level = (sy - one.size * sx) / n;
    one.squares = syy - sy * sy / n - one.size * one.size * spread;
    return one;
}

Transient transient_of(History const& history) {
    Transient best = fit(history, 1e12);
    best.size = 0;
    double const plain = best.squares;
    for (double fades = shortest_fade_s; fades < 1.5 * history.end_s(); fades *= 1.4) {
        auto const one = fit(history, fades);
        double const most = fades < history.end_s() / 2 ? believed : believed_early;
        if (one.squares < best.squares && one.squares < most * plain) best = one;
    }
    return best;
}

}  // namespace

MediumLately medium_lately(History const& history) {
    MediumLately medium;
    std::size_t const n = history.size();
    double const spacing = history.spacing_s(), end = history.end_s();
    auto const window = std::clamp<std::size_t>(
        static_cast<std::size_t>(std::llround(std::max(least_share * end, least_window_s) / spacing)), 1, n);
    auto const course = transient_of(history);
    auto const beside = [&](std::size_t i) {  // the course
        double const t = spacing * (static_cast<double>(i) + 0.5);
        return history.medium(i) - course.size * std::exp(-t / course.fades_s);
    };
    for (std::size_t i = n - window; i < n; ++i) {
        medium.mean += history.medium(i) / static_cast<double>(window);
        medium.expected += beside(i) / static_cast<double>(window);
    }
    medium.transient = course.size * std::exp(-end / course.fades_s);
    medium.fades_s = course.fades_s;
    std::size_t const before = std::min(window, n - window);
    medium.earlier = before == 0 ? medium.mean : 0;
    for (std::size_t i = n - window - before; i < n - window; ++i)
        medium.earlier += history.medium(i) / static_cast<double>(before);
    // Of nine means over the later half.
    std::size_t const half = n / 2, per_block = std::max<std::size_t>(half / 9, 1);
    double sum = 0, squares = 0, blocks = 0;
    for (std::size_t at = n - half; at + per_block <= n; at += per_block) {
        double mean = 0;
        for (std::size_t i = at; i < at + per_block; ++i) mean += beside(i) / static_cast<double>(per_block);
        sum += mean, squares += mean * mean, blocks += 1;
    }
    double const variance = blocks > 1 ? std::max(0.0, squares / blocks - sum * sum / (blocks * blocks)) : 0;
    medium.sd = std::hypot(0.7 * std::sqrt(variance), 0.2);
    return medium;
}

}  // namespace ingle
