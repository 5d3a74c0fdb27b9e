// Exponentially weighted moving average chart over standardised, independent values. Run lengths as
// published, see ewma_test.
#pragma once

#include <cmath>

namespace ingle {

class Ewma {
public:
    // `weight` of the newest value, 0 < weight <= 1; the limit is `width` asymptotic standard deviations.
    Ewma(double weight, double width) : weight_(weight), limit_(width * std::sqrt(weight / (2 - weight))) {}

    // +1: beyond the upper limit, -1: beyond the lower one, 0: within.
    int take(double z) {
        mean_ += weight_ * (z - mean_);
        return mean_ > limit_ ? 1 : mean_ < -limit_ ? -1 : 0;
    }
    void restart_at(double mean) { mean_ = mean; }
    double mean() const { return mean_; }
    double limit() const { return limit_; }

private:
    double weight_, limit_, mean_ = 0;
};

}  // namespace ingle
