// When the core will reach a target: the mean of two simple extrapolations that err to opposite sides, with
// an interval as wide as such forecasts really are. Owned by a Cook; pure.
#pragma once

#include <optional>
#include <string>
#include <string_view>
#include <vector>

#include "drivers/reading/clock.hpp"

namespace ingle {

class CoreEstimate {
public:
    struct Answer {
        std::optional<double> eta_s, low_s, high_s;  // seconds from `now`; all or none
        std::string why;                             // what it rests on, or why there is none
        bool stalled = false;      // it has levelled off on the way up, where evaporation explains it
        bool unreachable = false;  // as things are it does not get there
    };

    // One moment's core and, where it is known, its medium (degC). Times must not go back.
    void add(Instant at, double core, std::optional<double> medium);
    // `target` degC; `heating` false: the core is to fall to it.
    Answer to(double target, bool heating, Instant now) const;

    void clear();
    Instant first() const { return points_.empty() ? Instant{} : points_.front().at; }
    std::string as_text() const;  // exact; times count from `first`
    void from_text(std::string_view text, Instant first);

private:
    struct Point {
        Instant at{};
        double core = 0;
        double medium = 0;
        bool has_medium = false;
    };
    struct Line {
        double level = 0, slope = 0, slope_error = 0;  // at the end of the span; K/s
        int count = 0;
    };
    Line fit(Instant from, Instant to) const;

    std::vector<Point> points_;  // at most `most`; every other one is dropped when full
    Span spacing_ = std::chrono::seconds(5);
};

}  // namespace ingle
