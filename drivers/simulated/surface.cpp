#include "drivers/simulated/surface.hpp"

#include <algorithm>
#include <cmath>

namespace ingle::simulated {
namespace {

constexpr double a = 8.07131, b = 1730.63, c = 233.426, pascals_per_mmhg = 133.322;
constexpr double kelvin = 273.15, stefan_boltzmann = 5.670374e-8, emissivity = 0.95;
constexpr double gas_constant = 8.314463, molar_mass = 0.018015;
// Volumetric heat capacity of moist air times Le^(2/3): turns a heat transfer coefficient into one of mass.
constexpr double lewis = 1.10 * 1010 * 0.93;

}  // namespace

double vapour_pressure(double celsius) {
    return pascals_per_mmhg * std::pow(10.0, a - b / (c + celsius));
}

double boiling_temperature(double pascals) {
    return b / (a - std::log10(pascals / pascals_per_mmhg)) - c;
}

double latent_heat(double celsius) {
    return 2.501e6 - 2400 * celsius;
}

SurfaceLoss open_surface(double celsius, Air const& air, double h) {
    double const over = std::min(vapour_pressure(celsius), 0.985 * air.pascals);
    double const far = air.humidity * vapour_pressure(air.celsius);
    double const film = (celsius + air.celsius) / 2 + kelvin;
    double const drive = std::log((air.pascals - far) / (air.pascals - over));
    double const evaporation =
        h / lewis * molar_mass * air.pascals / (gas_constant * film) * std::max(drive, 0.0);
    double const hot = celsius + kelvin, cold = air.celsius + kelvin;
    double const radiation = emissivity * stefan_boltzmann * (std::pow(hot, 4) - std::pow(cold, 4));
    return {evaporation, evaporation * latent_heat(celsius), h * (celsius - air.celsius) + radiation};
}

}  // namespace ingle::simulated
