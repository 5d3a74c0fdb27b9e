// A pot of water or stock on a burner: what goes in, what evaporates, what is lost, and the boil. Pure.
#pragma once

#include "drivers/simulated/surface.hpp"

namespace ingle::simulated {

struct Pot {
    // Set once.
    double metal = 1200;     // J/K
    double surface = 0.045;  // m2 of open liquid
    double wall_loss = 2;    // W/K, through the wall
    double burner_lag = 15;  // s, until a turned knob is felt

    double water = 4;                  // kg
    double celsius = 20;               // of water and metal, well mixed
    double flame = 0;                  // W, where the knob stands (net, into the pot)
    double burner = 0;                 // W, what arrives now
    double heat_in = 0, heat_out = 0;  // J since the start; steam leaves with the heat of its water

    void step(double seconds, Air const& air, double heat_to_food);  // W
    void pour_in(double kilograms, double poured_celsius);
    double enthalpy() const;            // J above 0 degC
    double loss(Air const& air) const;  // W, at the present temperature
};

}  // namespace ingle::simulated
