#include "daemon/conditioning/noise.hpp"

#include <algorithm>
#include <cmath>

namespace ingle {

namespace {

constexpr double memory_samples = 200;  // of the noise
constexpr double clip = 5;              // times the mean: one missed spike must not pass for noise
constexpr int block = 20;               // differences that a resolution is judged by
constexpr int first_block = 4;          // and the very first time: a coarse source must be known soon
constexpr double least_step = 1e-3;     // K; finer than this is as good as continuous
constexpr int most_alike = 1'000'000;
constexpr double misfit = 0.1;  // of a step; decimal rounding of the source makes some
// K: no thermometer shows only every other degree, so what jumps further went to another place.
constexpr double coarsest = 1.5;

}  // namespace

void NoiseEstimator::take(double celsius) {
    if (seen_ >= 2) {
        double const second = std::abs(celsius - 2 * last_ + before_);
        // At first the plain mean, so that the first guess is soon forgotten.
        total_ = std::min(total_ + 1, static_cast<int>(memory_samples));
        double const weight = 1.0 / std::max(20.0, static_cast<double>(total_));
        mean_ += weight * (std::min(second, clip * mean_ + 1e-3) - mean_);
    }
    before_ = last_;
    last_ = celsius;
    seen_ = std::min(seen_ + 1, 2);
}

void ResolutionEstimator::take(double raw) {
    double const move = std::abs(raw - last_);
    last_ = raw;
    if (!begun_) {
        begun_ = true;
        return;
    }
    if (move < least_step * 0.5) {
        alike_ = std::min(alike_ + 1, most_alike);
        return;
    }
    alike_ = 1;
    if (move > coarsest && moves_ == 0) return;
    if (moves_ == 0 || move < smallest_ * (1 - misfit)) {
        smallest_ = move;
        largest_rest_ = 0;
    }
    double const times = move / smallest_;
    // Far jumps say little: a small error of the step grows with their number of steps.
    if (times < 8) largest_rest_ = std::max(largest_rest_, std::abs(times - std::round(times)));
    ++moves_;
    if (moves_ < block && (known_ || moves_ < first_block)) return;
    known_ = true;
    step_ = largest_rest_ <= misfit && smallest_ >= least_step ? smallest_ : 0;
    if (moves_ == block) moves_ = 0;
}

}  // namespace ingle
