// An oven, a smoker or a fridge: quick air, slow walls and contents, and a door. Pure.
#pragma once

namespace ingle::simulated {

struct Enclosure {
    // Set once: J/K and W/K.
    double air_heat = 3000, wall_heat = 25000;
    double air_to_wall = 12, wall_to_outside = 6, leak = 2;  // leak: air to outside, door shut
    double open_door = 40;                                   // the same through an open door, on top

    double air = 20, wall = 20;  // degC
    bool door_open = false;
    double heat_in = 0, heat_out = 0;  // J since the start

    // `source`: W into the air, negative for a compressor; `load`: W from the air into what stands inside.
    void step(double seconds, double outside, double source, double load);
    double enthalpy() const { return air_heat * air + wall_heat * wall; }
};

// Switches at its two ends.
struct Thermostat {
    double low, high;  // degC
    bool on = false;
    bool heat(double celsius) {
        if (celsius <= low) on = true;
        if (celsius >= high) on = false;
        return on;
    }
    bool cool(double celsius) {
        if (celsius >= high) on = true;
        if (celsius <= low) on = false;
        return on;
    }
};

}  // namespace ingle::simulated
