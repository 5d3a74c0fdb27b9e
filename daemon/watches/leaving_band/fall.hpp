// A liquid that fell faster than it drifts, as when cold food goes in, and whether it is on its way back to
// where it stood. Owned by leaving_band; pure, fixed memory, bounded in time.
#pragma once

#include <algorithm>
#include <optional>

#include "drivers/reading/clock.hpp"

namespace ingle {

class Fall {
public:
    // Once a second while it can be read: its level in degC.
    void step(Instant now, double level) {
        if (!from_) {
            stood_ = stood_ ? *stood_ + (level - *stood_) / follows_s : level;
            if (level > *stood_ - least_k) return;
            from_ = stood_;
            lowest_ = level;
            since_ = now;
        }
        lowest_ = std::min(lowest_, level);
        if (level < *from_ - near_k && now - since_ < longest) return;
        from_.reset();
        stood_ = level;
    }
    // It has not come back yet to where it stood.
    bool open() const { return from_.has_value(); }
    // It stood within a band that ends at `high`, degC, and is on its way back there.
    bool comes_back(double level, double high) const {
        return from_ && *from_ < high && level > lowest_ + turned_share * (*from_ - lowest_);
    }

    template <class Visit>
    void fields(Visit& visit) {
        visit(stood_, from_, lowest_, since_);
    }

private:
    static constexpr double follows_s = 90;  // what falls by less than `least_k` in that is a drift
    static constexpr double least_k = 2, near_k = 0.5, turned_share = 0.1;
    static constexpr Span longest = std::chrono::minutes(20);
    std::optional<double> stood_, from_;
    double lowest_ = 0;
    Instant since_{};
};

}  // namespace ingle
