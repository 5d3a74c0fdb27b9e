// Thermocouple voltages and temperatures by the ITS-90 reference functions (IEC 60584-1, NIST Monograph 175).
// Pure; any thread. Every driver of a bare thermocouple converts here, and so does `ingle calc`.
#pragma once

#include <optional>
#include <string_view>

namespace ingle {

enum class ThermocoupleType { B, E, J, K, N, R, S, T };

std::optional<ThermocoupleType> thermocouple_type_from(std::string_view letter);  // "K" or "k"
char letter_of(ThermocoupleType type);

struct ClosedRange {
    double low, high;
};
// degC where emf_mv is defined, as published: K -270..1372, J -210..1200, T -270..400, N -270..1300,
// E -270..1000, R and S -50..1768.1, B 0..1820.
ClosedRange emf_range(ThermocoupleType type);
// degC that `celsius` can return: the same, but B only from 200 (colder, its voltage is too flat, and turns
// back).
ClosedRange celsius_range(ThermocoupleType type);

// Voltage in mV with the reference junction at 0 degC; nothing outside emf_range.
std::optional<double> emf_mv(ThermocoupleType type, double celsius);

// The inverse, solved on the reference function itself to 1e-6 K (not the approximate inverse polynomials).
// Voltages up to 0.0005 mV (the rounding of the published tables) beyond an end count as that end.
std::optional<double> celsius(ThermocoupleType type, double millivolts);

// Temperature of the hot end for a voltage measured against terminals at `cold_junction` degC.
std::optional<double> compensate(ThermocoupleType type, double millivolts, double cold_junction);

}  // namespace ingle
