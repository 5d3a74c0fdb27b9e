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
    void reset() { *this = {}; }  // a gap, a step, another calibration
    // Empty until three alike periods were seen, and again once the swing is overdue.
    std::optional<Cycle> cycle(Instant now) const;
    // What it was before a restart: stands in for a few periods, and only while the level stays within it.
    void recall(Cycle const& before) { recalled_ = before; }

private:
    static constexpr int kept_ = 5;
    struct Period {
        double length_s = 0, mean = 0, low = 0, high = 0;
    };
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
