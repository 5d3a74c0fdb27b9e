// What `ingle probe calibrate` believes: when a reading is steady, and whether a point can be right. Pure.
#pragma once

#include <optional>
#include <span>
#include <string>
#include <vector>

#include "config/settings.hpp"
#include "drivers/thermocouple/its90.hpp"

namespace ingle::cli {

struct Sample {
    double at_s = 0;  // any clock that never jumps
    double celsius = 0;
};

// An ice or steam bath counts once the reading has not changed for 3 minutes (University of Georgia
// Extension, "Calibrate kitchen thermometers", 2002); the limits are ours, for chips that count in quarters.
inline constexpr double steady_for_s = 180;
inline constexpr double most_drift = 0.1;    // K/min
inline constexpr double most_change = 0.2;   // K over the whole time
inline constexpr double most_scatter = 0.5;  // K, standard deviation around the drift
inline constexpr std::size_t fewest_samples = 5;

struct Steadiness {
    bool steady = false;
    double celsius = 0;  // mean
    double drift = 0;    // K/min, of the straight line through the samples
    double scatter = 0;  // K
    double lasted_s = 0;
    std::size_t count = 0;
    std::string why_not;  // "" if steady
};
// Of the samples of the last `window_s`, in time order.
Steadiness steadiness(std::span<Sample const> samples, double window_s,
                      TemperatureUnit unit = TemperatureUnit::celsius);

// A point whose correction is larger than this is asked about twice: a glass of ice water can be off by as
// much.
inline constexpr double large_correction = 2.0;  // K

// What a wrong reading looks like: the thermocouple type set wrong, or its wires swapped. "" if like neither.
std::string suspicion(double reads, double is, std::optional<ThermocoupleType> type,
                      std::optional<double> cold_junction);

// Two points that are both off by about the same confirm each other.
bool confirm_each_other(std::span<CalibrationPoint const> points);

// "calibration = [{ reads = "0.42 degC", is = "0 degC" }]", as it goes into the kitchen file.
std::string kitchen_line(std::span<CalibrationPoint const> points, TemperatureUnit unit);

}  // namespace ingle::cli
