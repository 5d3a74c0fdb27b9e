// What was read of one subject up to a notice, and its band meanwhile, for a channel that can show a picture.
// Plain values.
#pragma once

#include <string>
#include <vector>

#include "config/quantity.hpp"

namespace ingle {

struct Chart {
    struct Point {
        double at_s = 0, low = 0, high = 0;  // s from the chart's begin; degC, what was read about then
    };
    struct BandPiece {
        double from_s = 0, to_s = 0, low = 0, high = 0;
    };
    std::string subject, from, to;  // the times of the day, "15:02"; "" = not known
    TemperatureUnit unit = TemperatureUnit::celsius;
    double span_s = 0;                     // from its begin to its end
    std::vector<std::vector<Point>> runs;  // between two of them nothing was read
    std::vector<BandPiece> bands;
    double unread_s = 0;
};

// "stockpot from 15:02 to 16:02: 64.1 degC to 75.0 degC, 12 min of it without a reading."
std::string in_words(Chart const& chart);

}  // namespace ingle
