// Whether what is shown of a probe goes the other way than a forecast of it: then the forecast is neither
// told nor shown, in a view, a text or a line. The one place that says so.
#pragma once

#include "daemon/watches/watch.hpp"

namespace ingle {

constexpr double shown_slope = 0.05 / 1.8 / 60;  // K/s: from here on a trend is shown as one, in degF/min

// `direction`: that the forecast needs; +1 up, -1 down, 0 neither.
inline bool has_turned(Signal const& signal, int direction) {
    if (direction == 0) return false;
    bool const shown = signal.fresh && signal.settled;
    return (shown && direction * signal.slope < -shown_slope) ||
           (direction > 0 ? signal.bounds.rate_high <= 0 : signal.bounds.rate_low >= 0);
}

}  // namespace ingle
