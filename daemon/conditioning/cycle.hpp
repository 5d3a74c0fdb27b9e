// Recognises the swing of a thermostat or a compressor: its period, mean and extremes over the last periods.
// Fixed memory. A single odd period (a door) does not make it forget.
#pragma once

#include <array>
#include <optional>

#include "daemon/watches/watch.hpp"

namespace ingle {

class CycleSeeker {
public:
    // `level`: filtered, degC; `least_swing`: K, smaller swings are noise. Stamps must not fall.
    void take(Instant at, double level, double least_swing);
    void reset() {  // a gap, a step, another calibration
        auto const before = recalled_;
        *this = {};
        recalled_ = before;
    }
    // Empty until three alike periods were seen, and again once the swing is overdue.
    std::optional<Cycle> cycle(Instant now) const;
    // What it was before a restart: stands in for a few periods, and only while the level stays within it.
    void recall(Cycle const& before) { recalled_ = before; }
    template <class Visit>
    void fields(Visit& visit) {
        visit(begun_, direction_, extreme_, extreme_at_, last_peak_, last_valley_, rise_, fall_, valley_at_,
              peak_seen_, last_level_, last_at_, area_, area_at_extreme_, area_at_valley_, origin_, periods_,
              begun_at_);
        visit.index(count_, kept_ + 1);
        visit.index(next_, kept_);
    }

private:
    static constexpr int kept_ = 5;
    struct Period {
        double length_s = 0, mean = 0, low = 0, high = 0;
        template <class Visit>
        void fields(Visit& visit) {
            visit(length_s, mean, low, high);
        }
    };
    double expected_swing(Instant at) const;
    void turned_up(Instant at);  // a valley is certain: a period from valley to valley is complete

    bool begun_ = false;
    int direction_ = 0;  // +1 rising, -1 falling
    double extreme_ = 0;
    Instant extreme_at_{};
    double last_peak_ = 0, last_valley_ = 0;
    double rise_ = 0, fall_ = 0;  // the last swings, K
    std::optional<Instant> valley_at_;
    bool peak_seen_ = false;
    double last_level_ = 0;
    Instant last_at_{};
    double area_ = 0, area_at_extreme_ = 0, area_at_valley_ = 0;  // K s, above the first level
    double origin_ = 0;
    std::array<Period, kept_> periods_{};
    int count_ = 0, next_ = 0;
    std::optional<Cycle> recalled_;
    Instant begun_at_{};
};

}  // namespace ingle
