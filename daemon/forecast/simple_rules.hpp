// The rules of thumb that a cook would draw on paper: a straight line, an exponential approach to the medium,
// and the mean of the two, which err to opposite sides. Pure; any thread.
#pragma once

#include <optional>

#include "daemon/forecast/history.hpp"

namespace ingle {

struct Line {
    double level = 0, slope = 0, slope_error = 0;  // at the end of the span; K/s
    int count = 0;
};
// Least squares over the points between `from_s` and `to_s`.
Line fit_line(History const& history, double from_s, double to_s);

// Seconds from the history's end; empty: the rule gives none. The line is drawn over the newest `share` of
// the time: a quarter by rule of thumb; a coarse resolution asks for more.
std::optional<double> straight_line(History const& history, double target_c, bool heating,
                                    double share = 0.25);
std::optional<double> approach(History const& history, double target_c, bool heating,
                               double medium_c);  // last half
std::optional<double> mean_rule(History const& history, double target_c, bool heating, double medium_c,
                                double share = 0.25);

}  // namespace ingle
