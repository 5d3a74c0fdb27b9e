// What a probe has read lately, and so what may be said of it: a level lies within the newest readings, a
// rate is one that they had. Fixed memory, right at any spacing of the readings; belongs to one probe.
#pragma once

#include <algorithm>
#include <array>
#include <optional>

#include "daemon/model/bounds.hpp"
#include "drivers/reading/clock.hpp"

namespace ingle {

class Lately {
public:
    void take(Instant at, double celsius);  // accepted readings, in time order
    void refuse() { ++refused_; }           // a reading came, and was not believed
    void restart() {
        count_ = single_count_ = refused_ = 0;
    }                                // a gap or another calibration: what was says nothing any more
    void forget_before(Instant at);  // what the trend of now did not begin with

    // Within the newest 30 s, or the last three readings where that is longer, the next one counted in; rates
    // over 30 s to 4 min of them. `noise`: sd of one reading in K, its rounding included. `waiting`: readings
    // that came since and are not believed yet, the newest at `newest_at`. Unbounded while there is no
    // reading.
    Bounds bounds(double noise, int waiting = 0, Instant newest_at = {}) const;
    // K by which the readings have moved over the newest 30 s or three of them, medians of the first and the
    // last third: a spike has not moved anything. Empty of fewer than three. `without` the newest so many.
    std::optional<double> moved(int without = 0) const;
    // K/s between the means around `from_s` and `to_s` before the newest reading; empty where it has none.
    std::optional<double> rate(double from_s, double to_s) const;
    // What survives a restart: the newest two minutes.
    template <class Visit>
    void fields(Visit& visit) {
        int kept = std::min(count_, remembered_);
        visit.index(kept, remembered_ + 1);
        visit.index(newest_, blocks_);
        for (int n = 0; n < kept; ++n) {
            auto& block = ring_[static_cast<std::size_t>((newest_ + blocks_ - n) % blocks_)];
            visit(block.first, block.last, block.sum, block.low, block.high, block.count);
        }
        count_ = kept;
    }

private:
    // Readings that come faster than this share a block.
    static constexpr Span block_ = std::chrono::seconds(5);
    static constexpr int blocks_ = 64, remembered_ = 26;
    struct Block {
        Instant first{}, last{};
        float sum = 0, low = 0, high = 0;  // sum: of what is above `low_at_`, so that a float is enough
        int count = 0;
        int refused = 0;  // between the block before and this one
    };
    Block const& ago(int n) const {  // 0 = the newest
        return ring_[static_cast<std::size_t>((newest_ + blocks_ - n) % blocks_)];
    }
    static double mean(Block const& b) { return b.low + b.sum / static_cast<float>(b.count); }
    static Instant middle(Block const& b) { return b.first + (b.last - b.first) / 2; }

    // Of a block from before the newest 30 s: the newest `count` of its readings, not all of them.
    void widen(Bounds& bounds, Block const& block, int count) const;

    // The newest one by one, at most about one a second.
    static constexpr Span apart_ = std::chrono::milliseconds(900);
    static constexpr int singles_ = 36;
    struct Single {
        Instant at{};
        float celsius = 0;
    };
    Single const& single(int ago) const {
        return newest_singles_[static_cast<std::size_t>((next_single_ + 2 * singles_ - 1 - ago) % singles_)];
    }

    std::array<Block, blocks_> ring_{};
    int newest_ = 0, count_ = 0;
    std::array<Single, singles_> newest_singles_{};
    int next_single_ = 0, single_count_ = 0, refused_ = 0;
};

}  // namespace ingle
