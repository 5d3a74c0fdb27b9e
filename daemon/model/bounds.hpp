// What may be told of a probe: nothing that it did not read. Plain values; any thread.
#pragma once

#include <algorithm>
#include <limits>

namespace ingle {

struct Bounds {
    static constexpr double none = std::numeric_limits<double>::infinity();
    double low = -none, high = none;            // degC: of the newest readings, give or take the noise
    double rate_low = -none, rate_high = none;  // K/s: that the readings had

    // The nearest to an estimate that may be told.
    double level(double celsius) const { return std::clamp(celsius, low, high); }
    double rate(double kelvin_per_second) const { return std::clamp(kelvin_per_second, rate_low, rate_high); }
    bool hold(double celsius) const { return celsius >= low && celsius <= high; }
};

}  // namespace ingle
