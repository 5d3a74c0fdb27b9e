// Whether a climb goes on, or bends: over the past levels of one vessel. Pure.
#pragma once

#include <algorithm>
#include <optional>

#include "daemon/conditioning/followed.hpp"

namespace ingle {

constexpr double fast_rise = 0.6 / 60;  // K/s: what stops from this near the boil has reached it

// A slow tip that was put into something hot slows down within seconds.
template <int N>
bool keeps_pace(Past<N> const& past, double step) {
    constexpr double kept_pace = 0.8, pace_s_per_k = 30;
    constexpr int pace_s = 15;
    int const w = pace_s + static_cast<int>(pace_s_per_k * std::min(step, 1.0));
    auto const newest = past.mean(2, 0), then = past.mean(w + 2, w), before = past.mean(2 * w + 2, 2 * w);
    return newest && then && before && *newest - *then > kept_pace * (*then - *before);
}

// degC, where a climb that slows down in equal parts ends; empty if it does not, or is too slow to tell.
template <int N>
std::optional<double> comes_to_rest(Past<N> const& past) {
    constexpr double slows_down = 0.8;
    constexpr int apart_s = 90;
    auto const newest = past.mean(60, 0), then = past.mean(60 + apart_s, apart_s),
               before = past.mean(60 + 2 * apart_s, 2 * apart_s);
    if (!newest || !then || !before) return std::nullopt;
    double const now_k = *newest - *then, before_k = *then - *before;
    if (before_k < fast_rise * apart_s || now_k <= 0 || now_k > slows_down * before_k) return std::nullopt;
    double const kept = now_k / before_k;
    return *newest + now_k * kept / (1 - kept);
}

}  // namespace ingle
