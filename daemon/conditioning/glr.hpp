// When a step began and how large it is: the generalised likelihood ratio over the last innovations. Costs
// one pass over its window, so it is asked only once another detector has seen a change. Fixed memory.
#pragma once

#include <array>
#include <cstddef>

namespace ingle {

struct StepLabel {
    int samples_ago = 0;  // of its first sample; 0 = the newest one
    double size = 0;      // mean of the values since, in their unit
    double ratio = 0;     // (sum)² / (2 n): ln of the likelihood ratio for unit variance
};

class StepLabeller {
public:
    static constexpr int window = 120;

    void take(double z) {
        ring_[static_cast<std::size_t>(next_)] = z;
        next_ = (next_ + 1) % window;
        if (size_ < window) ++size_;
    }
    // The likeliest start of a shift that lasts until now; ratio 0 if nothing was taken.
    StepLabel label() const {
        StepLabel best;
        double sum = 0;
        for (int n = 1; n <= size_; ++n) {
            sum += ring_[static_cast<std::size_t>((next_ - n + window) % window)];
            double const ratio = sum * sum / (2.0 * n);
            if (ratio > best.ratio) best = {n - 1, sum / n, ratio};
        }
        return best;
    }
    void reset() { size_ = next_ = 0; }

private:
    std::array<double, window> ring_{};
    int size_ = 0, next_ = 0;
};

}  // namespace ingle
