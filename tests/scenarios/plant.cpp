#include "tests/scenarios/plant.hpp"

#include <algorithm>
#include <array>
#include <cmath>
#include <numbers>
#include <utility>

namespace ingle::scenarios {
namespace {

constexpr double water_j_per_kg_k = 4186, evaporation_j_per_kg = 2.257e6;

}  // namespace

double Chance::uniform(double low, double high) {
    return low + (high - low) * static_cast<double>(bits_() >> 11) / 9007199254740992.0;
}

double Chance::normal() {
    if (have_) {
        have_ = false;
        return spare_;
    }
    double const r = std::sqrt(-2 * std::log(1 - uniform(0, 1))), a = 2 * std::numbers::pi * uniform(0, 1);
    spare_ = r * std::sin(a);
    have_ = true;
    return r * std::cos(a);
}

double Wander::step(Chance& chance) {
    double const keep = std::exp(-1 / tau_);
    value_ = keep * value_ + sd_ * std::sqrt(1 - keep * keep) * chance.normal();
    return value_;
}

double open_pot_loss_w(double celsius) {
    // Lewis analogy with Stefan flow, h_c 6 W/m2K, emissivity 0.95, 0.045 m2, room 22 degC at 50 % humidity.
    constexpr std::array<std::pair<double, double>, 13> table{{{22, 0},
                                                               {40, 40},
                                                               {60, 110},
                                                               {70, 177},
                                                               {80, 288},
                                                               {82.2, 323},
                                                               {85, 375},
                                                               {87.8, 442},
                                                               {90, 507},
                                                               {93, 629},
                                                               {95, 748},
                                                               {98, 1086},
                                                               {100, 1500}}};
    if (celsius <= table.front().first) return 2 * (celsius - 22);
    for (std::size_t i = 1; i < table.size(); ++i)
        if (celsius <= table[i].first) {
            auto const [x0, y0] = table[i - 1];
            auto const [x1, y1] = table[i];
            return y0 + (y1 - y0) * (celsius - x0) / (x1 - x0);
        }
    return table.back().second;
}

double Pot::loss_w(double at) const {
    double const open = open_pot_loss_w(at) + 1.2 * (at - room);
    return lid ? 0.12 * open_pot_loss_w(at) + 1.6 * (at - room) : open;
}

double Pot::flicker(double share, double tau_s) const {
    double const capacity = kg * 4186 + 900, damping = (loss_w(86) - loss_w(84)) / 2;
    return share * loss_w(celsius) / damping * std::sqrt(tau_s / (tau_s + capacity / damping));
}

void Pot::step() {
    double const net = burner_w - loss_w(std::min(celsius, boiling));
    if (kg <= 0.05) {  // nothing left to boil: the bottom and what sits on it climb
        dry_k += burner_w > 50 ? (0.8 + dry_k / 4) / 60 : -dry_k / 300;
        celsius = boiling + dry_k;
        return;
    }
    celsius += net / (kg * water_j_per_kg_k + 900);
    if (celsius >= boiling) {
        celsius = boiling;
        kg -= std::max(0.0, net) / evaporation_j_per_kg;
    }
    if (!lid && celsius > 60) kg -= 0.85 * open_pot_loss_w(celsius) / evaporation_j_per_kg;
    kg = std::max(kg, 0.0);
}

void Smoker::step() {
    constexpr double air_c = 1500, wall_c = 22'000, air_wall = 14, wall_out = 3.2, air_out = 0.9,
                     load_c = 3400;
    double const to_wall = air_wall * (air - wall);
    double const leak = (door_open ? 60 : air_out * wind) * (air - outside);
    double const to_load = cold_load_kg > 0 ? 1.1 * std::cbrt(cold_load_kg) * (air - load) : 0;
    air += (0.45 * fire_w - to_wall - leak - to_load) / air_c;
    wall += (0.55 * fire_w + to_wall - wall_out * wind * (wall - outside)) / wall_c;
    // The surface of the meat follows, the core takes hours: a tenth of it counts.
    if (cold_load_kg > 0) load += to_load / (load_c * cold_load_kg * 0.1) - (load - 10) / 9000;
}

double Smoker::power_to_hold(double at) const {
    // steady: air to wall exchange w: 0.45 P = 14 (a-w) + 0.9 (a-o);  0.55 P + 14 (a-w) = 3.2 (w-o)
    double low = 0, high = 20'000;
    for (int i = 0; i < 60; ++i) {
        double const p = (low + high) / 2;
        double const w = (0.55 * p + 14 * at + 3.2 * wind * outside) / (14 + 3.2 * wind);
        double const need = (14 * (at - w) + 0.9 * wind * (at - outside)) / 0.45;
        (need > p ? low : high) = p;
    }
    return (low + high) / 2;
}

void Oven::step() {
    if (air < set - hysteresis) on = true;
    if (air > set + hysteresis * 0.4) on = false;
    element += ((on ? 2400 : 0) - 14 * (element - air)) / 1400;
    air += (14 * (element - air) - 5.2 * (air - room)) / 9000;
}

void Fridge::step() {
    if (air > high) on = true;
    if (air < low) on = false;
    double const cooling = on && powered ? 95 : 0;
    double const leak = (door_open ? 1.3 + 11 * door_factor : 1.3) * (room - air);
    double const exchange = 3.5 * (contents - air);
    air += (leak + exchange + hot_load_w - cooling) / 4500;
    contents += -exchange / 60'000;
}

}  // namespace ingle::scenarios
