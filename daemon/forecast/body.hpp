// A body that takes or gives heat at a surface from which water evaporates, driven by the measured medium.
// The surface loses what the vapour carries off: it sees a medium that is lower by that depression, which
// grows as the surface warms and ends when the water that can leave has left. One law makes the rise, the
// plateau in a smoker and its end. Pure; any thread.
#pragma once

#include "daemon/forecast/modes.hpp"

namespace ingle {

struct BodyParameters {
    Shape shape = Shape::cylinder;
    double tau_s = 10000;      // R^2 / diffusivity at 40 degC
    double biot = 2;           // h R / k, radiation included, of a surface of 50 degC
    double radiant_share = 0;  // of h there; grows with the third power of the mean temperature
    double off_centre = 0;     // of the probe, r / R
    double start_c = 5;        // even, before the medium acts
    double head_start = 0;     // Fourier number it had in the first medium before the first reading
    double medium_gain = 0;    // the food's medium is m + gain (m - start): the probe stands elsewhere
    double wetness = 0;        // share of a free water surface; 0: dry, in liquid or sealed
    double vapour_pa = 2000;   // around it
    double moisture_k = 100;   // that can leave: by how much its latent heat would cool the whole body, K
    double warms = 1;          // 0: the diffusivity stays as it is at 40 degC
    double slows_from = 0.2;   // share of that moisture below which the surface begins to dry
};

// What drives vapour off a wet surface into dry air, Pa: p ln(p / (p - saturation)), which is the saturation
// pressure (Buck 1981, over water) with the flow that the vapour itself makes (Stefan), times the latent heat
// there over 2.35 MJ/kg. -20 to 99 degC.
float evaporation_pa(float celsius);
// Diffusivity of lean meat as a share of that at 40 degC, after Choi and Okos (1986).
float diffusivity_share(float celsius);

class Body {
public:
    Body(BodyParameters const& parameters, double first_medium_c);

    void use_step(double dt_s);  // of every step from now on
    void double_step();
    double dt() const { return dt_; }
    // The medium was `medium_c` at the mean over one step; the probe after it, degC.
    float step(float medium_c);

    float moisture() const { return moisture_; }                // share that is left
    double slowest_s() const { return tau_ / modes_.rate[0]; }  // time constant of the slowest term

private:
    float depression(float without, float medium);

    Modes modes_;
    ModeRow state_{}, left_{}, exponent_{};  // over one step, at 40 degC
    float gain_, start_, warms_, radiant_, wet_, vapour_, slows_from_, spent_per_k_s_, spent_per_k_ = 0;
    float surface_gain_ = 0, surface_c_, place_c_, moisture_ = 1;
    double tau_, dt_ = 0;
};

}  // namespace ingle
