// Where a level with a slope will be, and when it passes a limit: probabilities and intervals from the
// trend's own variances. Pure; any thread.
#pragma once

#include <optional>

#include "daemon/watches/watch.hpp"

namespace ingle {

enum class Side { above, below };

// A slope does not last: per minute this part of it remains, so that no straight line is drawn past what a
// vessel can do (our judgement; an oven or a pot levels off within half an hour).
constexpr double slope_kept_per_minute = 0.95;

struct Prospect {  // the state that a prediction starts from; units as in Signal
    double level = 0, slope = 0;
    double level_variance = 0, covariance = 0, slope_variance = 0;
    double slope_walk = 0;                           // K²/s³
    double kept_per_minute = slope_kept_per_minute;  // 1 = a straight line
};

// The newest state of a signal, carried on to `now`.
Prospect prospect_of(Signal const& signal, Instant now);

struct Normal {
    double mean = 0, variance = 0;
};
Normal predicted(Prospect const& from, double after_s);  // of the level, after_s >= 0

// The probability that the level is beyond `limit` at the end of the next `within_s` seconds, or is already.
double chance_beyond(Prospect const& from, double limit, Side side, double within_s);

// When the level first passes the limit: the median and an interval that holds with probability `confidence`.
// Each is in seconds from now; empty = later than `horizon_s`, or never.
struct CrossingTime {
    std::optional<double> eta_s, low_s, high_s;
};
CrossingTime time_to_cross(Prospect const& from, double limit, Side side, double horizon_s,
                           double confidence = 0.8);

double normal_cdf(double z);

}  // namespace ingle
