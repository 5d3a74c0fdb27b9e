// What a probe's own noise and resolution are, learnt from its samples. Fixed memory; one per probe each.
#pragma once

#include <cmath>

namespace ingle {

// Standard deviation of the sample-to-sample noise, K, blind to level and slope: from second differences,
// whose deviation is sqrt(6) times that of white noise. Evenly spaced samples only.
class NoiseEstimator {
public:
    explicit NoiseEstimator(double first_guess) : mean_(first_guess * to_mean_) {}
    void take(double celsius);
    void interrupt() { seen_ = 0; }  // a gap or a step: differences across it say nothing
    double sd() const { return mean_ / to_mean_; }
    void recall(double sd) { mean_ = sd * to_mean_; }
    template <class Visit>
    void fields(Visit& visit) {
        visit(mean_, last_, before_, seen_, total_);
    }

private:
    static constexpr double to_mean_ = 1.9544100476;  // sqrt(6) * sqrt(2 / pi)
    double mean_;                                     // of |second difference|
    double last_ = 0, before_ = 0;
    int seen_ = 0, total_ = 0;
};

// The smallest step that the values come in, K; 0 while it is not known or the values are continuous.
class ResolutionEstimator {
public:
    void take(double raw_celsius);
    double step() const { return step_; }
    bool known() const { return known_; }
    double seen() const { return known_ ? step_ : smallest_; }  // until it is known: the smallest move
    // A coarse instrument climbs by a step or two at once: degC, and K of noise.
    bool climbs(double from, double to, double noise) const {
        return known_ && std::abs(to - from) <= climbs_by * step_ + noise;
    }
    int alike() const { return alike_; }  // samples in a row that read the same, at least 1
    void recall(double step) {
        step_ = step;
        known_ = true;
    }
    template <class Visit>
    void fields(Visit& visit) {
        visit(begun_, last_, smallest_, largest_rest_, moves_, step_, known_, alike_);
    }

private:
    static constexpr double climbs_by = 2;  // steps, between two readings
    bool begun_ = false;
    double last_ = 0;
    double smallest_ = 0;      // of this block
    double largest_rest_ = 0;  // how badly the other differences fit the smallest, as part of it
    int moves_ = 0;
    double step_ = 0;
    bool known_ = false;
    int alike_ = 1;
};

}  // namespace ingle
