#include "daemon/conditioning/ticks.hpp"

#include <algorithm>
#include <cmath>

namespace ingle {

namespace {

constexpr double coarse_k = 0.2;  // a finer instrument shows what its medium does
constexpr double trembles = 2;    // steps
constexpr double rounding = 0.2;  // of a step, by the source's decimals
constexpr int no_tremble = 2;     // others in a row
constexpr double overdue = 1.5;   // times as long as the steps before were apart
constexpr Span least_overdue = std::chrono::seconds(30), usually_apart = std::chrono::seconds(58);

}  // namespace

void Ticks::take(Instant at, double celsius, double resolution, Span every) {
    step_ = resolution;
    every_ = every;
    if (!begun_) {
        *this = Ticks();
        begun_ = true;
        same_ = low_ = high_ = celsius;
        same_since_ = at_ = stepped_at_ = at;
        return;
    }
    others_ = celsius == same_ ? 0 : others_ + 1;
    if (others_ >= no_tremble) {
        same_since_ = celsius == other_ ? at_ : at;
        same_ = celsius;
        others_ = 0;
    }
    other_ = celsius;
    at_ = at;
    step(at, celsius);
}

void Ticks::step(Instant at, double celsius) {
    int const way = celsius > high_ ? 1 : celsius < low_ ? -1 : 0;
    if (way == 0) return;
    double const before = way > 0 ? high_ : low_;
    (way > 0 ? high_ : low_) = celsius;
    if (high_ - low_ <= (trembles + rounding) * step_) return;
    // Of a leap each step has its share.
    double const steps = std::max(1.0, std::abs(celsius - before) / std::max(step_, 1e-3));
    before_ = way == way_ ? apart_ : Span(0);
    apart_ = way == way_ ? from_seconds(seconds(at - stepped_at_) / steps) : Span(0);
    (way > 0 ? low_ : high_) = celsius - way * trembles * step_;
    way_ = way;
    stepped_at_ = at;
}

Span Ticks::patience() const {
    // A rest before the first of them is no rhythm.
    Span const usual = apart_ == Span(0)    ? usually_apart
                       : before_ == Span(0) ? apart_
                                            : std::min(apart_, before_);
    return std::max(from_seconds(overdue * seconds(usual)) + 2 * every_, least_overdue);
}

void Ticks::narrow(Bounds& bounds) const {
    if (begun_ && step_ >= coarse_k && at_ - same_since_ > patience()) bounds.rate_low = bounds.rate_high = 0;
}

}  // namespace ingle
