#include "daemon/food/outlook.hpp"

#include <algorithm>
#include <cmath>

namespace ingle {
namespace {

// Where the medium is not measured: ice water at best, a warm kitchen at worst, a cool room in between.
constexpr double coldest_c = 0, likely_c = 10, warmest_c = 20;
// One rate for the whole way is wrong at both ends: the outside of a joint cools first, evaporation fades.
constexpr double sooner = 0.75, later = 1.4;

std::optional<double> newton_s(double core, double slope, double span, double to, double medium) {
    double const above_then = core - slope * span / 2 - medium;  // in the middle of the span
    if (core <= medium || to <= medium || above_then <= 0) return std::nullopt;
    return std::log((core - medium) / (to - medium)) * above_then / -slope;
}

}  // namespace

void RecentSlope::add(double t, double c) {
    // The newest point moves along until it is a spacing away from the one before it.
    if (count_ >= 2 && points_[count_ - 1].t - points_[count_ - 2].t < spacing_s) --count_;
    if (count_ == most) {
        std::move(points_.begin() + 1, points_.end(), points_.begin());
        --count_;
    }
    points_[count_++] = {t, c};
    std::size_t drop = 0;
    while (count_ - drop > 2 && t - points_[drop].t > window_s) ++drop;
    if (drop == 0) return;
    std::move(points_.begin() + static_cast<std::ptrdiff_t>(drop),
              points_.begin() + static_cast<std::ptrdiff_t>(count_), points_.begin());
    count_ -= drop;
}

std::optional<double> RecentSlope::slope() const {
    if (count_ < 2 || span_s() < 60) return std::nullopt;
    return (points_[count_ - 1].c - points_[0].c) / span_s();
}

double RecentSlope::span_s() const {
    return count_ < 2 ? 0 : points_[count_ - 1].t - points_[0].t;
}

void RecentMean::add(double t, double c) {
    double const share =
        mean_ && std::abs(c - *mean_) < another_place_k ? 1 - std::exp(-std::max(0.0, t - t_) / over_s) : 1;
    mean_ = mean_.value_or(c) + share * (c - mean_.value_or(c));
    t_ = t;
}

CoolingOutlook cooling_outlook(double core_c, double slope, double span_s, double to_c,
                               std::optional<double> medium_c) {
    CoolingOutlook outlook;
    if (slope > -0.1 / 3600) {
        outlook.why = "the core is not falling";
        return outlook;
    }
    if (medium_c) {
        outlook.eta_s = newton_s(core_c, slope, span_s, to_c, *medium_c);
        outlook.why = outlook.eta_s ? "from the present rate toward the measured surroundings"
                                    : "the surroundings are not cold enough to bring it there";
        if (!outlook.eta_s) return outlook;
        outlook.low_s = sooner * *outlook.eta_s;
        outlook.high_s = later * *outlook.eta_s;
        return outlook;
    }
    double const under = to_c - 1;
    outlook.eta_s = newton_s(core_c, slope, span_s, to_c, std::min(likely_c, under - 2));
    auto const low = newton_s(core_c, slope, span_s, to_c, std::min(coldest_c, under - 4));
    auto const high = newton_s(core_c, slope, span_s, to_c, std::min(warmest_c, under));
    if (!outlook.eta_s || !low || !high) {
        outlook.eta_s.reset();
        outlook.why = "the present rate gives no estimate";
        return outlook;
    }
    outlook.low_s = sooner * *low;
    outlook.high_s = later * *high;
    outlook.why = "from the present rate; the surroundings are not measured";
    return outlook;
}

}  // namespace ingle
