#include "daemon/food/return_path.hpp"

#include <algorithm>
#include <cmath>
#include <iterator>

namespace ingle {
namespace {

// Common practice, no source. A tip follows what it is put into with a time constant of 8 to 22 s.
constexpr double level_k = 1.5;
constexpr double far_k = 12;
constexpr double within_s = 60;
// At one reading in some minutes the way itself is not seen: but air that has come so far is still coming.
constexpr double sparse_s = 120, still_coming_share = 0.25;
constexpr std::size_t most_levels = 200;
// It left more quickly than any core moves: by so much more than the fastest would have gone.
constexpr double left_k = 6, left_k_per_s = 0.25;

}  // namespace

void ReturnPath::take(double t, double celsius) {
    if (!levels_.empty() && std::abs(celsius - levels_.back().c) < level_k) {
        levels_.back().last = t;
        return;
    }
    levels_.push_back({t, t, celsius});
    // How it left, and the newest, stay known.
    if (levels_.size() > most_levels) levels_.erase(levels_.begin() + most_levels / 2);
}

std::optional<double> ReturnPath::since(double c, double near_k) const {
    std::optional<double> begin;
    for (auto level = levels_.rbegin(); level != levels_.rend() && std::abs(level->c - c) <= near_k; ++level)
        begin = level->first;
    return begin;
}

bool ReturnPath::left_at_once() const {
    return std::ranges::any_of(levels_, [&](Level const& level) {
        double const after = level.first - levels_.front().last;
        bool const soon = after <= within_s || &level == &levels_[1];
        return soon &&
               std::abs(level.c - levels_.front().c) >= left_k + left_k_per_s * std::min(after, within_s);
    });
}

bool ReturnPath::came_at_once(Reading first, bool from_warmer) const {
    return std::ranges::any_of(levels_, [&](Level const& level) {
        double const since = first.t - level.last;
        bool const soon = since <= within_s ||
                          &level == &levels_[levels_.size() - std::min<std::size_t>(2, levels_.size())];
        return soon && (level.c - first.c) * (from_warmer ? 1 : -1) >=
                           left_k + left_k_per_s * std::clamp(since, 0.0, within_s);
    });
}

bool ReturnPath::at_once(Reading first, Reading second) const {
    if (!left_at_once()) return true;
    auto const newest = levels_.rbegin();
    auto const left = std::prev(levels_.rend());
    auto const far = std::find_if(newest, left, [&](Level const& level) {
        return level.last < first.t && std::abs(level.c - first.c) >= far_k;
    });
    if (far == left) return true;
    double const near_since = far == newest ? first.t : std::min(first.t, std::prev(far)->first);
    if (first.t - near_since > within_s) return false;
    double const way = first.c - far->c, further = (second.c - first.c) * (way > 0 ? 1 : -1);
    return second.t - first.t < sparse_s || further <= still_coming_share * std::abs(way);
}

}  // namespace ingle
