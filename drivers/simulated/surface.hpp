// Heat and water leaving an open, wet surface in still air. Pure; any thread.
#pragma once

namespace ingle::simulated {

// Over water, Pa, within 0.5 % from 0 to 105 degC (Antoine's equation), and its inverse in degC.
double vapour_pressure(double celsius);
double boiling_temperature(double pascals);
double latent_heat(double celsius);  // J/kg, of water

struct Air {
    double celsius = 21, humidity = 0.5, pascals = 98500;
};

struct SurfaceLoss {
    double evaporation;  // kg/(m2 s), Lewis relation with Stefan flow
    double latent, dry;  // W/m2: evaporation; convection and radiation
};

// `h` is the convection coefficient in W/(m2 K). Near the boiling point evaporation grows without bound; it
// is held at what 98.5 % of the air's pressure gives, and the caller's energy balance does the rest.
SurfaceLoss open_surface(double celsius, Air const& air, double h = 6);

}  // namespace ingle::simulated
