// Correction of a probe by one or two known points. Values only; any thread.
#pragma once

#include <optional>
#include <span>
#include <string>

#include "config/settings.hpp"

namespace ingle {

struct Calibration {
    double gain = 1;
    double offset = 0;  // K
    double apply(double reads_celsius) const { return gain * reads_celsius + offset; }
};

// No point: no correction. One: an offset. Two: the straight line through both; of points at the same reading
// only the first counts. Always from what the bare probe reads, so calibrating twice never adds up.
Calibration calibration_from(std::span<CalibrationPoint const> points);

// Why such points should not be believed, in a sentence; empty = they may be. Limits are our judgement: a
// point more than 5 K off is a wrong bath or a wrong probe, two points closer than 50 K say little of the
// gain, and a gain outside 0.97 to 1.03 is another fault than a worn probe.
std::optional<std::string> doubt_about(std::span<CalibrationPoint const> points);

}  // namespace ingle
