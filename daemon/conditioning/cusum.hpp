// Tabular CUSUM over standardised, independent values (innovations, not temperatures: those are correlated
// and would raise false alarms by orders of magnitude). Run lengths as published, see cusum_test.
#pragma once

#include <algorithm>

namespace ingle {

class Cusum {
public:
    // `k`: half the shift to be found, `h`: the decision limit, both in standard deviations. A `head_start`
    // above 0 (customarily h / 2) finds a shift that is there from the beginning sooner.
    Cusum(double k, double h, double head_start = 0)
        : k_(k), h_(h), head_(head_start), up_(head_start), down_(head_start) {}

    // +1: shifted up, -1: shifted down, 0: neither. Does not restart by itself.
    int take(double z) {
        up_ = std::max(0.0, up_ + z - k_);
        down_ = std::max(0.0, down_ - z - k_);
        return up_ > h_ ? 1 : down_ > h_ ? -1 : 0;
    }
    void restart() { up_ = down_ = head_; }
    void restart_at(double up, double down) {
        up_ = up;
        down_ = down;
    }
    double up() const { return up_; }
    double down() const { return down_; }
    template <class Visit>
    void fields(Visit& visit) {
        visit(up_, down_);
    }

private:
    double k_, h_, head_, up_, down_;
};

}  // namespace ingle
