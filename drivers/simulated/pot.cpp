#include "drivers/simulated/pot.hpp"

#include <algorithm>
#include <cmath>

namespace ingle::simulated {
namespace {

constexpr double water_heat = 4186;  // J/(kg K)

}  // namespace

double Pot::enthalpy() const {
    return (water * water_heat + metal) * celsius;
}

double Pot::loss(Air const& air) const {
    auto const open = open_surface(celsius, air);
    return surface * ((water > 0 ? open.latent : 0) + open.dry) + wall_loss * (celsius - air.celsius);
}

void Pot::step(double seconds, Air const& air, double heat_to_food) {
    burner += (flame - burner) * (1 - std::exp(-seconds / burner_lag));
    auto const open = open_surface(celsius, air);
    double const dry = surface * open.dry + wall_loss * (celsius - air.celsius);
    double evaporated = std::min(water, surface * open.evaporation * seconds);
    double const capacity = water * water_heat + metal;
    double const vapour = latent_heat(celsius);
    double rise = ((burner - dry - heat_to_food) * seconds - evaporated * vapour) / capacity;

    // At the boil the temperature stays, and what is left of the heat makes steam until the water is gone.
    double const boil = boiling_temperature(air.pascals);
    double const surplus = (celsius + rise - boil) * capacity;
    if (water > evaporated && surplus > 0) {
        double const steam = std::min(water - evaporated, surplus / vapour);
        evaporated += steam;
        rise -= steam * vapour / capacity;
    }
    heat_in += burner * seconds;
    heat_out += (dry + heat_to_food) * seconds + evaporated * vapour;
    celsius += rise;
    heat_out += evaporated * water_heat * celsius;
    water -= evaporated;
}

void Pot::pour_in(double kilograms, double poured_celsius) {
    heat_in += kilograms * water_heat * poured_celsius;
    double const total = enthalpy() + kilograms * water_heat * poured_celsius;
    water += kilograms;
    celsius = total / (water * water_heat + metal);
}

}  // namespace ingle::simulated
