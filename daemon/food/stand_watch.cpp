#include "daemon/food/stand_watch.hpp"

#include <algorithm>
#include <cmath>

namespace ingle {
namespace {

// Common practice, no source. An hour, as the alarm of a stuck probe has it; coarser than a tenth of a degree
// a middle may well stand so long, the longest where it sweats in the heat.
constexpr double fine_s = 3600, half_degree_s = 2 * 3600, coarse_s = 3 * 3600, heated_share = 2;
constexpr double fine_k = 0.15, half_degree_k = 0.6;
constexpr double apart_s = 330;  // further apart than the slowest rhythm nothing is known
constexpr int least_repeats = 8;
constexpr double far_k = 10;  // from what is around it: there no middle stands still
// What freezes or thaws stands, and what boils.
constexpr double ice_low_c = -3, ice_high_c = 1.5, boils_k = 8;
constexpr double turned_back = 1.5, forgets = 0.02, trembles = 0.05;

}  // namespace

void StandWatch::clear() {
    double const grain = grain_;
    *this = StandWatch();
    grain_ = grain;
}

void StandWatch::take(double t, double celsius, std::optional<double> medium_c, FoodPhase phase) {
    if (since_ && t - newest_ > apart_s) clear();
    if (!since_ || std::abs(celsius - since_->c) > same_reading_k) {
        changed(t, celsius);
    } else {
        ++repeats_;
    }
    far_ = far_ && medium_c && std::abs(*medium_c - celsius) >= far_k;
    heated_ = heated_ || is_heated(phase);
    newest_ = t;
}

void StandWatch::changed(double t, double celsius) {
    if (since_) {
        double const way = celsius - since_->c;
        grain_ = grain_ > 0 ? std::min(grain_, std::abs(way)) : std::abs(way);
        bool const back = way * way_ < 0 && std::abs(way) >= turned_back * grain_;
        trembling_ = trembling_ * std::pow(1 - forgets, repeats_ + 1) + (back ? forgets : 0);
        way_ = way;
    }
    since_ = Point{t, celsius};
    repeats_ = 0;
    far_ = true;
    heated_ = false;
}

double StandWatch::patience_s() const {
    if (grain_ > 0 && grain_ <= fine_k) return fine_s;
    double const cooled = grain_ > 0 && grain_ <= half_degree_k ? half_degree_s : coarse_s;
    return heated_ ? heated_share * cooled : cooled;
}

std::optional<double> StandWatch::stuck(double boiling_c) const {
    if (!since_ || repeats_ < least_repeats) return std::nullopt;
    double const stood = newest_ - since_->t, c = since_->c;
    if (stood < fine_s || (ice_low_c <= c && c <= ice_high_c) || c >= boiling_c - boils_k)
        return std::nullopt;
    bool const sure = trembling_ >= trembles || (far_ && stood >= patience_s());
    return sure ? std::optional(since_->t) : std::nullopt;
}

}  // namespace ingle
