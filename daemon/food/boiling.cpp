#include "daemon/food/boiling.hpp"

#include <cmath>

namespace ingle {
namespace {

constexpr double kelvin = 273.15;

// IAPWS R7-97(2012), table 34.
constexpr double n[] = {0,
                        0.11670521452767e4,
                        -0.72421316703206e6,
                        -0.17073846940092e2,
                        0.12020824702470e5,
                        -0.32325550322333e7,
                        0.14915108613530e2,
                        -0.48232657361591e4,
                        0.40511340542057e6,
                        -0.23855557567849,
                        0.65017534844798e3};
constexpr double lowest_pa = 611.212677, highest_pa = 22.064e6, critical_k = 647.096;

// Standard atmosphere: sea level, lapse rate over sea-level temperature, g0/(R L).
constexpr double p0 = 101325, lapse_per_metre = 0.0065 / 288.15, exponent = 5.255876;

constexpr double salt_kg_per_mol = 0.0584428, ebullioscopic = 0.512;
constexpr double saturated = 0.2846, saturated_elevation = 108.7 - 99.974;  // measured at 1 atm

double molality(double mass_fraction) {
    return mass_fraction / (1 - mass_fraction) / salt_kg_per_mol;
}

}  // namespace

std::optional<Temperature> saturation_temperature(Pressure pressure) {
    if (!(pressure.pascals >= lowest_pa && pressure.pascals <= highest_pa)) return std::nullopt;
    double const b = std::pow(pressure.pascals / 1e6, 0.25);
    double const e = b * b + n[3] * b + n[6];
    double const f = n[1] * b * b + n[4] * b + n[7];
    double const g = n[2] * b * b + n[5] * b + n[8];
    double const d = 2 * g / (-f - std::sqrt(f * f - 4 * e * g));
    double const s = n[10] + d;
    return Temperature{(s - std::sqrt(s * s - 4 * (n[9] + n[10] * d))) / 2 - kelvin};
}

std::optional<Pressure> saturation_pressure(Temperature temperature) {
    double const t = temperature.celsius + kelvin;
    if (!(t >= kelvin && t <= critical_k)) return std::nullopt;
    double const v = t + n[9] / (t - n[10]);
    double const a = v * v + n[1] * v + n[2];
    double const b = n[3] * v * v + n[4] * v + n[5];
    double const c = n[6] * v * v + n[7] * v + n[8];
    return Pressure{std::pow(2 * c / (-b + std::sqrt(b * b - 4 * a * c)), 4) * 1e6};
}

std::optional<Pressure> standard_pressure(Length altitude) {
    if (!(altitude.metres >= -1000 && altitude.metres <= 11000)) return std::nullopt;
    return Pressure{p0 * std::pow(1 - lapse_per_metre * altitude.metres, exponent)};
}

std::optional<Length> standard_altitude(Pressure pressure) {
    if (!(pressure.pascals > 0)) return std::nullopt;
    Length const altitude{(1 - std::pow(pressure.pascals / p0, 1 / exponent)) / lapse_per_metre};
    if (!standard_pressure(altitude)) return std::nullopt;
    return altitude;
}

std::optional<TemperatureDifference> salt_elevation(Fraction salt) {
    if (!(salt.value >= 0 && salt.value <= saturated)) return std::nullopt;
    double const m = molality(salt.value), most = molality(saturated);
    constexpr double dilute = 1.85;
    double const full = saturated_elevation / (ebullioscopic * most);
    return TemperatureDifference{(dilute + (full - dilute) * m / most) * ebullioscopic * m};
}

std::optional<Temperature> boiling_point(Pressure station_pressure, Fraction salt) {
    auto const pure = saturation_temperature(station_pressure);
    auto const rise = salt_elevation(salt);
    if (!pure || !rise) return std::nullopt;
    return *pure + *rise;
}

std::optional<Temperature> boiling_point(Length altitude, Fraction salt) {
    auto const pressure = standard_pressure(altitude);
    if (!pressure) return std::nullopt;
    return boiling_point(*pressure, salt);
}

Temperature boiling_point_here(std::optional<Pressure> station_pressure, std::optional<Length> altitude) {
    auto const known =
        station_pressure ? boiling_point(*station_pressure) : boiling_point(altitude.value_or(Length{}));
    return known.value_or(Temperature{100});
}

std::optional<Length> altitude_of_boiling_point(Temperature plateau, Fraction salt) {
    auto const rise = salt_elevation(salt);
    if (!rise) return std::nullopt;
    auto const pressure = saturation_pressure(plateau - *rise);
    if (!pressure) return std::nullopt;
    return standard_altitude(*pressure);
}

}  // namespace ingle
