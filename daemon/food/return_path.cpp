#include "daemon/food/return_path.hpp"

#include <algorithm>
#include <cmath>
#include <iterator>
#include <ranges>

namespace ingle {
namespace {

// Common practice, no source. A tip follows what it is put into with a time constant of 8 to 22 s.
constexpr double level_k = 1.5;
constexpr double far_k = 12;
constexpr double within_s = 60;
// At one reading in some minutes the way itself is not seen: but air that has come so far is still coming.
constexpr double sparse_s = 120, still_coming_share = 0.25;
constexpr std::size_t most_levels = 200;

}  // namespace

void ReturnPath::take(double t, double celsius) {
    if (!levels_.empty() && std::abs(celsius - levels_.back().c) < level_k) {
        levels_.back().last = t;
        return;
    }
    levels_.push_back({t, t, celsius});
    if (levels_.size() > most_levels) levels_.pop_front();
}

bool ReturnPath::at_once(Reading first, Reading second) const {
    auto const newest_first = levels_ | std::views::reverse;
    auto const far = std::ranges::find_if(newest_first, [&](Level const& level) {
        return level.last < first.t && std::abs(level.c - first.c) >= far_k;
    });
    if (far == newest_first.end()) return true;
    double const left = far == newest_first.begin() ? first.t : std::min(first.t, std::prev(far)->first);
    if (first.t - left > within_s) return false;
    double const way = first.c - far->c, further = (second.c - first.c) * (way > 0 ? 1 : -1);
    return second.t - first.t < sparse_s || further <= still_coming_share * std::abs(way);
}

}  // namespace ingle
