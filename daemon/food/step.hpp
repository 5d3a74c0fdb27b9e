// The way from one core temperature to the next: measured (a straight line between two readings) or a gap, of
// which only the bounds are known. Everything in this folder adds up steps. Pure; any thread.
#pragma once

#include <limits>
#include <optional>
#include <span>
#include <vector>

namespace ingle {

// A core cannot have moved faster than this where nobody looked. Five times the mean of a 140 g piece of beef
// in a 175 degC oven (14 to 57 degC in 630 s), so that thinner food is covered too.
constexpr double fastest_core_k_per_s = 20.0 / 60.0;

constexpr double from_fahrenheit(double f) {
    return (f - 32) * 5 / 9;
}
constexpr double to_fahrenheit(double c) {
    return c * 9 / 5 + 32;
}
// Limits are inclusive; this forgives what a conversion between units rounds away.
constexpr double rounding_k = 1e-6;

constexpr double unbounded_s = 365 * 86400.0;  // a time that nothing bounds

struct Step {
    double t0 = 0, c0 = 0, t1 = 0, c1 = 0;  // s, degC
    bool gap = false;
    // In a gap: what the surroundings allow at most and at least.
    double low_cap = -std::numeric_limits<double>::infinity();
    double high_cap = std::numeric_limits<double>::infinity();

    double fastest = fastest_core_k_per_s;  // in a gap: what it may have moved at, K/s
    bool from_unknown = false;  // a gap before the first reading: c0 is not known, only where it ended

    double length() const { return t1 - t0; }
    // When a measured line passes `level` (it must lie between c0 and c1).
    double crossing(double level) const { return c1 == c0 ? t0 : t0 + (level - c0) / (c1 - c0) * (t1 - t0); }
    double highest_possible() const;  // degC; of a measured step, the higher end
    double lowest_possible() const;
    // Gap: when `level` may have been passed at the earliest and at the latest, both ends kept in mind.
    double earliest(double level) const;
    double latest(double level) const;
};

// Seconds of a measured step strictly between the limits, and at or above a level (both inclusive of the
// line's own ends).
double seconds_between(Step const& step, double low_c, double high_c);
double seconds_at_or_above(Step const& step, double level_c);
// Seconds that a step may have spent between the limits: measured, or as many as a gap allows.
double possible_seconds_between(Step const& step, double low_c, double high_c);

// A recording of one probe, for the calculators: no value = no reading.
struct FoodSample {
    double t_s = 0;
    std::optional<double> celsius;
    bool after_gap = false;  // between it and the one before lies a gap, however short
};
// Readings further apart than this are a gap: three times the recording's own rhythm, at least a minute.
double longest_step_s(std::span<FoodSample const> series);
// The steps of a series; without values it has none.
std::vector<Step> steps_of(std::span<FoodSample const> series);

}  // namespace ingle
