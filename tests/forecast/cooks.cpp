#include "tests/forecast/cooks.hpp"

#include <algorithm>
#include <cmath>
#include <random>

#include "tests/forecast/truth.hpp"

namespace ingle::bench {
namespace {

class Dice {
public:
    explicit Dice(unsigned seed) : engine_(seed) {
        for (int i = 0; i < 20; ++i) engine_();
    }
    double from(double low, double high) {
        return low + (high - low) * (static_cast<double>(engine_()) / 4294967296.0);
    }
    double log_from(double low, double high) { return std::exp(from(std::log(low), std::log(high))); }
    bool chance(double p) { return from(0, 1) < p; }
    double normal() {
        return std::sqrt(-2 * std::log(from(1e-9, 1))) * std::cos(6.283185307179586 * from(0, 1));
    }

private:
    std::mt19937 engine_;
};

// What the medium does: a level with steps, a cycle, a slow wander and openings of the door.
struct Course {
    double level = 85, cycle_k = 0, period_s = 600, phase = 0, wander_k = 0.3;
    double dip_k = 0, dip_back_s = 600;  // when the food went in
    double step_at = 1e12, step_k = 0;
    std::vector<double> doors;
    double door_k = 40, door_back_s = 240;
    double wander = 0;

    double at(double t, double dt, Dice& dice) {
        wander += dt * (-wander / 900) + wander_k * std::sqrt(2 * dt / 900) * dice.normal();
        double m = level + wander + cycle_k * std::sin(6.283185307179586 * (t / period_s + phase));
        m -= dip_k * std::exp(-t / dip_back_s);
        if (t > step_at) m += step_k * (1 - std::exp(-(t - step_at) / 300));
        for (double const door : doors)
            if (t > door) m -= door_k * std::exp(-(t - door) / door_back_s);
        return m;
    }
};

struct Scene {
    Food food;
    Surface surface;
    Course course;
    double target = 74, longest_s = 36 * 3600.0, usual_s = 7200, step_s = 5;
    double probe_place = 0, noise = 0.1, resolution = 0.1, probe_gain = 0;
    bool heating = true;
    DishEntries entries;
};

void poach(Scene& s, Dice& dice, bool wide) {
    s.food.radius_m = wide ? dice.from(0.025, 0.06) : dice.from(0.03, 0.055);
    s.course.level = dice.from(79, 90);
    s.course.dip_k = dice.from(0, 8);
    s.course.cycle_k = dice.chance(0.3) ? dice.from(0.3, 1.5) : 0;
    s.course.period_s = dice.from(300, 1200);
    s.surface.h_convection = 350 * std::exp(0.5 * dice.normal());
    s.target = dice.from(62, std::min(75.0, s.course.level - 8));
    if (dice.chance(0.25)) s.course.step_at = dice.from(1200, 5400), s.course.step_k = dice.from(-4, 4);
    s.entries.surroundings = Surroundings::liquid;
    s.usual_s = 5000;
}

void roast(Scene& s, Dice& dice, bool wide) {
    s.food.radius_m = wide ? dice.from(0.038, 0.072) : dice.from(0.042, 0.068);
    s.course.level = dice.from(150, 190);
    s.course.cycle_k = dice.from(1, 6);
    s.course.period_s = dice.from(300, 1000);
    s.course.wander_k = 1;
    s.course.dip_k = dice.from(10, 50);
    s.surface.h_convection = wide ? dice.log_from(6, 28) : dice.log_from(7, 24);
    s.surface.emissivity = dice.from(0.7, 0.95);
    s.surface.wetness = dice.log_from(0.04, 0.4);
    s.surface.dew_point_c = dice.from(10, 45);
    s.surface.water_share = dice.log_from(0.03, 0.2);
    s.target = dice.from(52, 76);
    s.course.door_k = dice.from(20, 60);
    for (int i = 0; i < 2; ++i)
        if (dice.chance(0.6)) s.course.doors.push_back(dice.from(600, 9000));
    if (dice.chance(0.25)) s.course.step_at = dice.from(1500, 6000), s.course.step_k = dice.from(-28, 20);
    s.entries.surroundings = Surroundings::oven;
    s.usual_s = 9000;
}

void smoke(Scene& s, Dice& dice, bool wide) {
    s.food.radius_m = wide ? dice.from(0.038, 0.076) : dice.from(0.042, 0.07);
    s.food.fat = dice.from(0.08, 0.2), s.food.water = dice.from(0.6, 0.66);
    s.course.level = dice.from(104, 124);
    s.course.cycle_k = dice.from(1, 5);
    s.course.period_s = dice.from(600, 2400);
    s.course.wander_k = 2;
    s.course.dip_k = dice.from(5, 25);
    s.surface.h_convection = dice.log_from(6, 16);
    s.surface.emissivity = dice.from(0.7, 0.95);
    s.surface.wetness = dice.log_from(0.1, 0.45);
    s.surface.dew_point_c = dice.from(10, 55);
    s.surface.water_share = dice.log_from(0.1, 0.32);
    s.surface.slows_at = dice.from(0.1, 0.45);
    s.target = dice.from(90, 95.5);
    s.course.door_k = dice.from(10, 40);
    s.course.door_back_s = dice.from(240, 900);
    for (int i = 0; i < 8; ++i)
        if (dice.chance(0.6)) s.course.doors.push_back(dice.from(1800, 50000));
    s.entries.surroundings = Surroundings::smoker;
    s.usual_s = 40000, s.step_s = 10;
}

void chill(Scene& s, Dice& dice, bool wide) {
    bool const ice = dice.chance(0.5);
    s.heating = false;
    s.food.radius_m = wide ? dice.from(0.03, 0.06) : dice.from(0.035, 0.055);
    s.food.start_c = dice.from(62, 76);
    if (ice) {
        s.course.level = dice.from(0.3, 2);
        s.course.wander_k = 0.2;
        s.surface.h_convection = 350 * std::exp(0.4 * dice.normal());
        s.target = dice.chance(0.5) ? 5 : 10;
        s.entries.surroundings = Surroundings::liquid;
    } else {
        s.course.level = dice.from(1, 4);
        s.course.cycle_k = dice.from(0.5, 2), s.course.period_s = dice.from(1200, 3600);
        s.course.dip_k = dice.from(-6, 0), s.course.dip_back_s = dice.from(1200, 5000);
        s.surface.h_convection = wide ? dice.log_from(4, 25) : dice.log_from(5, 20);
        s.surface.emissivity = 0.9;
        s.surface.wetness = dice.chance(0.5) ? 0 : dice.log_from(0.05, 0.5);
        s.surface.dew_point_c = s.course.level - 3;
        s.surface.water_share = dice.log_from(0.02, 0.1);
        s.target = dice.chance(0.5) ? 21 : 15;
        s.entries.surroundings = Surroundings::cold;
        if (dice.chance(0.5)) s.course.doors = {dice.from(1800, 9000)}, s.course.door_k = -8;
    }
    s.usual_s = 14000;
}

Scene scene_of(Class kind, Dice& dice, bool wide) {
    Scene s;
    s.food.geometry = static_cast<int>(dice.from(0, 2.999));
    s.food.start_c = dice.from(2, 9);
    s.food.fat = dice.from(0.02, 0.12), s.food.water = dice.from(0.66, 0.74);
    s.food.conductivity_factor = std::exp(0.07 * dice.normal());
    switch (kind) {
        case Class::poach:
            poach(s, dice, wide);
            break;
        case Class::roast:
            roast(s, dice, wide);
            break;
        case Class::smoke:
            smoke(s, dice, wide);
            break;
        case Class::chill:
            chill(s, dice, wide);
            break;
    }
    s.probe_place = std::min(0.3, std::abs(0.1 * dice.normal()));
    s.noise = dice.log_from(0.03, 0.25);
    double const resolutions[] = {0.1, 0.25, 0.5, 5.0 / 9, 1};
    s.resolution = resolutions[static_cast<int>(dice.from(0, 4.999))];
    // What the cook entered: mostly right, sometimes nothing, sometimes wrong.
    double const which = dice.from(0, 1), thickness = 2 * s.food.radius_m;
    if (which < 0.6)
        s.entries.thickness_m = thickness * dice.from(0.92, 1.08);
    else if (which < 0.75)
        s.entries.thickness_m = thickness * dice.from(0.7, 1.4);
    if (dice.chance(0.7))
        s.entries.shape =
            static_cast<Shape>(dice.chance(0.85) ? s.food.geometry : static_cast<int>(dice.from(0, 2.999)));
    return s;
}

// A medium that swings as much as one of its kind may, and has no step.
void swing(Scene& s, Class kind, Dice& dice) {
    bool const fire = kind == Class::roast || kind == Class::smoke;
    s.course.cycle_k = fire ? dice.from(2, 8) : dice.from(0.5, 2);
    s.course.period_s = dice.log_from(400, 2700);
    s.course.wander_k = fire ? dice.from(1, 2.5) : dice.from(0.2, 0.6);
    s.course.step_at = 1e12;
}

void change(Scene& s, Class kind, Case what, Dice& dice) {
    double const thickness = 2 * s.food.radius_m;
    double const share = dice.from(0.3, 0.6);
    switch (what) {
        case Case::medium_step:
            s.course.step_at = share * s.usual_s;
            s.course.step_k = kind == Class::chill ? dice.from(0.5, 1.5)
                                                   : dice.from(-1, 1) * (kind == Class::poach ? 5 : 25);
            break;
        case Case::door:
            for (int i = 0; i < 4; ++i) s.course.doors.push_back(s.usual_s * dice.from(0.1, 0.8));
            if (kind == Class::poach) s.course.door_k = 6;
            if (kind == Class::chill) s.course.door_k = -8;
            break;
        case Case::half_thickness:
            s.entries.thickness_m = thickness / 2;
            break;
        case Case::double_thickness:
            s.entries.thickness_m = thickness * 2;
            break;
        case Case::off_centre:
            s.probe_place = dice.from(0.3, 0.6);
            break;
        case Case::barely:
            swing(s, kind, dice);
            s.course.level = s.target + (s.heating ? 1 : -1) * dice.from(1.5, 6);
            break;
        case Case::late_fire:
            s.course.dip_k = (s.heating ? 1 : -1) * dice.from(0.3, 0.6) * std::abs(s.course.level - 20);
            s.course.dip_back_s = dice.log_from(1200, 5000);
            s.course.step_at = 1e12;
            break;
        case Case::unreachable:
            swing(s, kind, dice);
            if (kind == Class::roast) s.course.level = dice.from(80, 100);
            if (kind == Class::smoke) s.course.level = dice.from(85, 92);
            s.target = s.course.level + (s.heating ? 1 : -1) * dice.from(1.5, 8);
            break;
        case Case::fire_dies:
            s.course.step_at = share * s.usual_s * 0.9;
            s.course.step_k = s.target - s.course.level - (s.heating ? 1 : -1) * dice.from(2, 10);
            break;
        default:
            break;
    }
}

}  // namespace

char const* name_of(Class kind) {
    constexpr char const* names[] = {"poach", "roast", "smoke", "chill"};
    return names[static_cast<int>(kind)];
}

char const* name_of(Case what) {
    constexpr char const* names[] = {"none",       "medium step", "door",           "moved probe",
                                     "restart",    "gap",         "half thickness", "double thickness",
                                     "off centre", "barely",      "late fire",      "unreachable",
                                     "fire dies"};
    return names[static_cast<int>(what)];
}

SimulatedCook simulate(Class kind, unsigned seed, bool judged, Case what) {
    Dice dice(seed * 7919 + static_cast<unsigned>(kind) * 101 + (judged ? 500009 : 0));
    auto s = scene_of(kind, dice, judged);
    change(s, kind, what, dice);
    SimulatedCook cook;
    cook.kind = kind, cook.entries = s.entries, cook.target_c = s.target, cook.heating = s.heating;
    Truth truth(s.food, s.surface);
    double const sign = s.heating ? 1 : -1;
    double const event_at = dice.from(0.35, 0.6) * s.usual_s;
    double const longest = never_arrives(what) ? 2 * s.usual_s : s.longest_s;
    if (what == Case::fire_dies) cook.enough_until_s = s.course.step_at;
    bool done = false;
    double place = what == Case::moved_probe ? std::min(0.8, s.probe_place + 0.35) : s.probe_place;
    for (double t = 0; t < longest && !done; t += s.step_s) {
        double const medium = s.course.at(t, s.step_s, dice);
        double const core = truth.at(place);
        Sample sample{t, core, medium};
        if (t >= event_at && t < event_at + s.step_s) {
            sample.moved = what == Case::moved_probe, sample.restart = what == Case::restart;
            if (sample.moved) place = s.probe_place, sample.core = truth.at(place);
        }
        if (sign * (truth.at(place) - s.target) >= 0 && t >= event_at * (what == Case::moved_probe)) {
            done = true;
            cook.arrives_s = t;
        }
        auto const read = [&](double x) {
            return std::round((x + s.noise * dice.normal()) / s.resolution) * s.resolution;
        };
        sample.core = read(sample.core), sample.medium = read(sample.medium);
        bool const away = what == Case::gap && t > event_at && t < event_at + 1200;
        if (!away) cook.samples.push_back(sample);
        truth.step(s.step_s, medium);
    }
    return cook;
}

}  // namespace ingle::bench
