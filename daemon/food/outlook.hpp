// How fast a core has moved of late, and when it will have cooled to a limit at that rate (Newton's law of
// cooling). Owned by the ledger; pure; O(1) per reading.
#pragma once

#include <array>
#include <cstddef>
#include <optional>
#include <string>

namespace ingle {

class RecentSlope {
public:
    void add(double t, double c);
    void clear() { count_ = 0; }
    // K/s over the last 20 min, or over the last two readings where they are further apart. Empty: too
    // little.
    std::optional<double> slope() const;
    double span_s() const;  // how long the slope is taken over

private:
    struct Point {
        double t, c;
    };
    static constexpr double spacing_s = 120, window_s = 1200;
    static constexpr std::size_t most = 12;
    std::array<Point, most> points_{};  // oldest first; the newest is always last
    std::size_t count_ = 0;
};

// What surrounds the food tends to of late: a compressor or a thermostat goes up and down about it. O(1).
class RecentMean {
public:
    void add(double t, double c);
    void clear() { mean_.reset(); }
    std::optional<double> celsius() const { return mean_; }  // empty: nothing was read

private:
    static constexpr double over_s = 1200, another_place_k = 10;  // a step of that size is no cycle
    std::optional<double> mean_;
    double t_ = 0;
};

struct CoolingOutlook {
    std::optional<double> eta_s, low_s, high_s;  // from now; all or none
    std::string why;                             // what it rests on, or why there is none
};
// When a core at `core_c` that moves at `slope` K/s (taken as the mean over the last `span_s`) will be at
// `to_c`. The medium's temperature, where known, is what it tends to; else a cold room to a warm one bound
// it.
CoolingOutlook cooling_outlook(double core_c, double slope, double span_s, double to_c,
                               std::optional<double> medium_c);

}  // namespace ingle
