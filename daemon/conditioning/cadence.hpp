// How often a probe really speaks: as the kitchen file says, until the values that come show something else.
// Fixed memory; belongs to one probe.
#pragma once

#include <algorithm>
#include <array>
#include <optional>

#include "drivers/reading/clock.hpp"

namespace ingle {

class Cadence {
public:
    explicit Cadence(Span said) : said_(said) {}

    void take(Instant at) {  // a value came; times in order
        if (last_ && at > *last_) {
            ring_[static_cast<std::size_t>(next_)] = at - *last_;
            next_ = (next_ + 1) % kept_;
            count_ = std::min(count_ + 1, kept_);
            auto sorted = ring_;
            std::sort(sorted.begin(), sorted.begin() + count_);
            usual_ = sorted[static_cast<std::size_t>(count_ / 2)];
        }
        last_ = at;
    }
    void interrupt() { last_.reset(); }  // a fault came between: the next interval says nothing
    // Between two readings: what was said, or the median of the last five where that is plainly another.
    Span every() const {
        bool const other = count_ >= enough_ && (2 * usual_ > 3 * said_ || 2 * usual_ < said_);
        return other ? usual_ : said_;
    }
    template <class Visit>
    void fields(Visit& visit) {
        visit(usual_, ring_, last_);
        visit.index(next_, kept_);
        visit.index(count_, kept_ + 1);
    }

private:
    static constexpr int kept_ = 5, enough_ = 3;
    Span said_, usual_{};
    std::array<Span, kept_> ring_{};
    int next_ = 0, count_ = 0;
    std::optional<Instant> last_;
};

}  // namespace ingle
