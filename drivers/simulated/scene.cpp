#include "drivers/simulated/scene.hpp"

#include <algorithm>
#include <cmath>
#include <numbers>

namespace ingle::simulated {
namespace {

constexpr double outside = 8;  // degC, where the smoker stands
constexpr double goose_area = 0.0763,
                 goose_h = 300;                   // 1.8 kg, 9 cm thick, 27 cm long, in gently moving stock
constexpr double boar_area = 0.087, boar_h = 14;  // 2.5 kg, taken as a sphere
constexpr double boar_wetness = 0.12;             // share of the surface that evaporates like water
constexpr double tub_heat = 7 * 3900.0, tub_to_air = 3;
constexpr double oven_power = 2400, compressor = -140, fire = 550;
constexpr double hour = 3600;

constexpr std::array<double, thing_names.size()> lag{4, 8, 10, 10, 15, 20, 12, 30};  // s, per thing
constexpr std::array<double, thing_names.size()> noise{0.06, 0.05, 0.25, 0.05, 0.3, 0.06, 0.05, 0.05};  // K

double boar_drain(Food const& boar, double air) {
    // Smoke air is dry: its water content is the outside air's.
    double const humidity = std::min(0.7 * vapour_pressure(outside) / vapour_pressure(air), 1.0);
    return boar_wetness * open_surface(boar.surface(), {air, humidity, 98500}, boar_h).latent;
}

}  // namespace

std::optional<Thing> thing_from(std::string_view name) {
    auto const found = std::find(thing_names.begin(), thing_names.end(), name);
    if (found == thing_names.end()) return std::nullopt;
    return static_cast<Thing>(found - thing_names.begin());
}

std::optional<Story> story_from(std::string_view name) {
    if (name == "supper") return Story::supper;
    if (name == "steady") return Story::steady;
    return std::nullopt;
}

Scene::Scene(Story story)
    : story_(story),
      goose_({Form::cylinder, 0.045, 0.48, 1050, 3500}, 5),
      boar_({Form::sphere, 0.083, 0.47, 1050, 3400}, 5),
      smoker_{.air = 93, .wall = 64},
      oven_{.air_heat = 2500,
            .wall_heat = 18000,
            .air_to_wall = 12,
            .wall_to_outside = 4,
            .leak = 1.5,
            .open_door = 30,
            .air = 203,
            .wall = 158},
      fridge_{.air_heat = 4000,
              .wall_heat = 30000,
              .air_to_wall = 25,
              .wall_to_outside = 0,
              .leak = 1.5,
              .open_door = 25,
              .air = 3,
              .wall = 3.2} {
    // The supper is under way: the roll has poached for three quarters of an hour, the boar smoked for two.
    for (int i = 0; i < 45 * 12; ++i) goose_.step(5, 84, goose_h);
    for (int i = 0; i < 120 * 12; ++i) boar_.step(5, 93, boar_h, boar_drain(boar_, 93));
    pot_.celsius = 84.4;
    pot_.flame = pot_.burner = 1120;
    for (std::size_t i = 0; i < felt_.size(); ++i) felt_[i] = truth(static_cast<Thing>(i));
}

void Scene::act() {
    double const t = std::fmod(seconds(), hour);
    auto const at = [&](double minutes) { return t == minutes * 60; };
    auto const between = [&](double from, double to) { return t >= from * 60 && t < to * 60; };
    bool const minded = story_ == Story::steady || t >= 8 * 60;
    if (minded)  // an eye on the pot and a hand on the knob
        pot_.flame = std::clamp(620 + 120 * (85 - pot_.celsius), 0.0, 1500.0);
    else
        pot_.flame = between(0, 5) ? 1120 : 150;
    if (story_ == Story::supper) {
        smoker_.door_open = between(6, 6 + 50.0 / 60) || between(36, 36 + 40.0 / 60);
        if (at(40)) pot_.pour_in(0.6, 60);
    }
}

void Scene::step() {
    act();
    double const t = seconds();
    hall_.celsius = 21 + 1.5 * std::sin(2 * std::numbers::pi * t / (24 * hour));

    double const goose_heat = goose_.step(step_seconds, pot_.celsius, goose_h) / step_seconds * goose_area;
    pot_.step(step_seconds, hall_, goose_heat);

    double const wind = 1 + 0.04 * std::sin(2 * std::numbers::pi * t / 2300);  // the fire breathes
    double const drain = boar_drain(boar_, smoker_.air);
    double const boar_heat = boar_.step(step_seconds, smoker_.air, boar_h, drain) / step_seconds + drain;
    smoker_.step(step_seconds, outside, fire * wind + 40, boar_heat * boar_area);

    oven_.step(step_seconds, hall_.celsius, oven_switch_.heat(oven_.air) ? oven_power : 0, 0);

    double const into_tub = tub_to_air * (fridge_.air - tub_);
    tub_ += into_tub * step_seconds / tub_heat;
    fridge_.step(step_seconds, hall_.celsius, fridge_switch_.cool(fridge_.air) ? compressor : 0, into_tub);

    for (std::size_t i = 0; i < felt_.size(); ++i)
        felt_[i] += (truth(static_cast<Thing>(i)) - felt_[i]) * (1 - std::exp(-step_seconds / lag[i]));
    ++steps_;
}

void Scene::advance_to(double seconds) {
    auto const target = static_cast<std::int64_t>(std::floor(seconds / step_seconds + 1e-6));
    while (steps_ < target) step();
}

double Scene::truth(Thing thing) const {
    switch (thing) {
        case Thing::stockpot:
            return pot_.celsius;
        case Thing::goose_core:
            return goose_.centre();
        case Thing::smoker:
            return smoker_.air;
        case Thing::boar_core:
            return boar_.centre();
        case Thing::oven:
            return oven_.air;
        case Thing::fridge:
            return fridge_.air;
        case Thing::trout_tub:
            return tub_;
        case Thing::hall:
            break;
    }
    return hall_.celsius;
}

double Scene::felt(Thing thing) const {
    return felt_[static_cast<std::size_t>(thing)];
}

double shown(double felt, std::uint64_t seed, Thing thing, std::uint64_t sample) {
    // SplitMix64 of (seed, thing, sample), and the sum of four uniform numbers for a bell-shaped noise.
    auto const index = static_cast<std::size_t>(thing);
    std::uint64_t state = (seed * 8 + index) * 0x9E3779B97F4A7C15u + sample * 0xD1B54A32D192ED03u;
    double sum = 0;
    for (int i = 0; i < 4; ++i) {
        state += 0x9E3779B97F4A7C15u;
        std::uint64_t z = state;
        z = (z ^ (z >> 30)) * 0xBF58476D1CE4E5B9u;
        z = (z ^ (z >> 27)) * 0x94D049BB133111EBu;
        z ^= z >> 31;
        sum += static_cast<double>(z >> 11) / 9007199254740992.0 - 0.5;
    }
    double const normal = sum * std::sqrt(3.0);  // variance of the sum is 4/12
    return std::round((felt + noise[index] * normal) * 4) / 4;
}

}  // namespace ingle::simulated
