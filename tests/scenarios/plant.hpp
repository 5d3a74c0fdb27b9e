// Physical models of a kitchen for the scenario bench, written apart from the demo's simulator. Seeded; one
// step is one second. Temperatures in degC, power in W.
#pragma once

#include <cstdint>
#include <random>

namespace ingle::scenarios {

class Chance {  // the same numbers on every machine: mt19937_64 and our own transforms
public:
    explicit Chance(std::uint64_t seed) : bits_(seed) {}
    double uniform(double low, double high);
    double normal();  // mean 0, sd 1
    bool happens(double probability) { return uniform(0, 1) < probability; }

private:
    std::mt19937_64 bits_;
    bool have_ = false;
    double spare_ = 0;
};

// A slow random wander: Ornstein-Uhlenbeck, sd in its own unit, time constant in seconds.
class Wander {
public:
    Wander(double sd, double tau_s) : sd_(sd), tau_(tau_s) {}
    double step(Chance& chance);
    double sd() const { return sd_; }

private:
    double sd_, tau_, value_ = 0;
};

// Open-surface loss of a 24 cm pot of water in still air at 22 degC: evaporation, radiation and convection,
// W. Our own fit of a Lewis-analogy balance; see the table in pot_test of the scenarios' README text in
// main.cpp.
double open_pot_loss_w(double celsius);

struct Pot {
    double celsius = 20, kg = 5, burner_w = 0, room = 22, boiling = 99.2;
    bool lid = false;
    double dry_k = 0;  // above boiling, once the liquid is gone
    void step();
    double loss_w(double at) const;
    double power_to_hold(double at) const { return loss_w(at); }
    // K: sd of what a flame that wanders by this share over `tau_s` does to the pot, held by the heat
    // capacity and damped by the loss that grows with it.
    double flicker(double share, double tau_s) const;
};

// Air and walls: the air loses its heat at once when the door opens, the walls give it back when it closes.
struct Smoker {
    double air = 15, wall = 15, fire_w = 0, outside = 12, wind = 1;  // wind: factor on the losses
    bool door_open = false;
    double cold_load_kg = 0, load = 4;  // meat, and its surface temperature
    void step();
    double power_to_hold(double at) const;
};

struct Oven {  // a thermostat with hysteresis and a lagging element
    double air = 20, element = 20, set = 204, hysteresis = 5, room = 22;
    bool on = true;
    void step();
};

struct Fridge {  // a compressor with hysteresis; contents hold the cold
    double air = 4, contents = 4, low = 2.6, high = 4.8, room = 21;
    bool on = false, door_open = false, powered = true;
    double door_factor = 1;  // 1 = wide open, 0.2 = ajar
    double hot_load_w = 0;
    void step();
};

}  // namespace ingle::scenarios
