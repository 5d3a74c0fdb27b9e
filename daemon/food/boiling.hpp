// Where water boils here: from the station pressure or the altitude, and with salt in it. Pure; any thread.
#pragma once

#include <optional>

#include "config/quantity.hpp"

namespace ingle {

// Saturation temperature of pure water: IAPWS R7-97(2012), equation 31; 611.213 Pa to 22.064 MPa, else
// nothing.
std::optional<Temperature> saturation_temperature(Pressure pressure);
// Saturation pressure, equation 30; 0 to 373.946 degC, else nothing.
std::optional<Pressure> saturation_pressure(Temperature temperature);

// Standard atmosphere (ISO 2533, US 1976) in its lowest layer: -1000 to 11000 m, else nothing. Its height is
// geopotential; a map's height differs by 0.6 m at 2000 m (6 Pa, 0.002 K of boiling point), which is left
// out.
std::optional<Pressure> standard_pressure(Length altitude);
std::optional<Length> standard_altitude(Pressure pressure);

// How much higher a table-salt solution boils, for a mass fraction of salt up to saturation at the boil
// (0.2846), else nothing. i Kb m with Kb = 0.512 K kg/mol and i rising from 1.85 (dilute) to the measured
// 8.7 K at saturation; within 0.1 K up to 10 % salt. At 3000 m it is really some 7 % less.
std::optional<TemperatureDifference> salt_elevation(Fraction salt);

std::optional<Temperature> boiling_point(Pressure station_pressure, Fraction salt = {});
std::optional<Temperature> boiling_point(Length altitude, Fraction salt = {});

// By what is said of the kitchen: its pressure, else its altitude, else the sea's; 100 degC outside of every
// kitchen's range.
Temperature boiling_point_here(std::optional<Pressure> station_pressure, std::optional<Length> altitude);

// The altitude whose standard pressure makes this the boiling point; weather moves it by some +-170 m.
std::optional<Length> altitude_of_boiling_point(Temperature plateau, Fraction salt = {});

}  // namespace ingle
