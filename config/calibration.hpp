// What a calibration may be, for a kitchen file and for a command alike. Pure; any thread.
#pragma once

#include <cstddef>
#include <optional>
#include <span>
#include <string>
#include <vector>

#include "config/settings.hpp"

namespace ingle {

struct CalibrationProblem {
    std::optional<std::size_t> point;  // which of them; empty: all together
    std::string wrong, right;          // "moves the reading by 40 degC, ...", "measure again; ..."
};
// More is the wrong bath or the wrong probe, its type or its wires, and no calibration.
inline constexpr TemperatureDifference most_calibration_offset{5};

// Everything that is wrong with none, one point (an offset) or two (an offset and a gain): more than that
// offset, two points less than 50 K apart, more than 3 % of gain. Our own judgement of what a sound probe
// needs.
std::vector<CalibrationProblem> calibration_problems(std::span<CalibrationPoint const> points);

}  // namespace ingle
