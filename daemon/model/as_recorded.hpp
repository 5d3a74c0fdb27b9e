// A temperature as the logbook keeps it.
#pragma once

#include <cmath>

namespace ingle {

// In thousandths, so that what is judged later is what was judged at once; but what is kept of a tenth of a
// degree F is that tenth: 160 degF is kept as 71.111 degC and is at its limit.
inline double as_recorded(double celsius) {
    double const kept = std::nearbyint(celsius * 1000) / 1000;
    double const tenth = (std::nearbyint((kept * 9 / 5 + 32) * 10) / 10 - 32) * 5 / 9;
    return std::abs(kept - tenth) <= 0.00051 ? tenth : kept;
}

}  // namespace ingle
