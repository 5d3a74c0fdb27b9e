#include "daemon/forecast/prior.hpp"

#include <algorithm>
#include <cmath>
#include <numbers>

namespace ingle {
namespace {

// Meat, poultry, fish: properties.csv's recommendation for any meat is 1.25e-7 within a factor of 1.15; warm
// food conducts a little better.
constexpr double diffusivity = 1.28e-7, conductivity = 0.48, density = 1050;
constexpr double usual_tau_s = 10000;           // nothing entered: a radius of 36 mm, within a factor of 1.6
constexpr double water_heat_per_m3_k = 4.13e6;  // J, at 50 degC
constexpr double liquid_biot = 0.3, liquid_tau_sd = 0.4, usual_liquid_radius_m = 0.08;
constexpr double hollow_share = 0.8;  // of the mass counts: fitted to the published roasting times of birds
constexpr double latent_over_capacity_k = 2.35e6 / 3450;

double normal_share(double z) {
    return 0.5 * std::erfc(-z / std::numbers::sqrt2);
}

// One who measured a thickness is seldom far off, and sometimes twice.
double heavy(double z) {
    return z * (1 + 0.15 * z * z);
}

// Half the thickness of a body of this mass: a sphere; a roll three times as long as it is thick, which
// is what the published roasting times of joints come to; a slab four times as wide.
double radius_of(double mass_kg, Shape shape) {
    double const volume = mass_kg / density, pi = std::numbers::pi;
    switch (shape) {
        case Shape::sphere:
            return std::cbrt(3 * volume / (4 * pi));
        case Shape::cylinder:
            return std::cbrt(volume / (6 * pi));
        case Shape::slab:
            break;
    }
    return std::cbrt(volume / 32) / 2 * 1.26;
}

struct Usual {
    double h, h_sd;                // W/(m2 K), natural logarithm
    double wetness, wetness_sd;    // median; 0: none
    double moisture, moisture_sd;  // that can leave, share of the mass
    double gain_sd;
};
Usual usual(Surroundings where) {
    switch (where) {
        case Surroundings::liquid:
            return {350, 0.7, 0, 0, 0.1, 0.1, 0.003};
        case Surroundings::oven:
            return {22, 0.5, 0.1, 1.0, 0.1, 0.7, 0.04};
        case Surroundings::smoker:
            return {17, 0.5, 0.1, 1.0, 0.2, 0.5, 0.04};
        case Surroundings::cold:
            break;
    }
    return {25, 1.3, 0.05, 1.0, 0.05, 0.8, 0.003};
}

}  // namespace

Surroundings surroundings_of(VesselKind kind) {
    switch (kind) {
        case VesselKind::pot:
        case VesselKind::bath:
            return Surroundings::liquid;
        case VesselKind::oven:
        case VesselKind::hot_box:
            return Surroundings::oven;
        case VesselKind::smoker:
            return Surroundings::smoker;
        case VesselKind::fridge:
        case VesselKind::room:
            break;
    }
    return Surroundings::cold;
}

Prior::Prior(DishEntries const& entries, double start_c, double start_sd_k)
    : entries_(entries), start_c_(start_c), start_sd_k_(start_sd_k) {
    ln_tau_ = std::log(usual_tau_s), tau_sd_ = 1;
    auto const from_radius = [&](double radius, double sd) {
        ln_tau_ = std::log(radius * radius / diffusivity), tau_sd_ = sd;
    };
    if (entries_.thickness_m && *entries_.thickness_m > 0)
        from_radius(*entries_.thickness_m / 2, 0.2);
    else if (entries_.mass_kg && *entries_.mass_kg > 0)
        from_radius(radius_of(*entries_.mass_kg * (entries_.hollow ? hollow_share : 1),
                              entries_.shape.value_or(Shape::cylinder)),
                    0.4);
}

double Prior::share_of(Shape shape) const {
    if (!entries_.shape) return 1.0 / 3;
    return *entries_.shape == shape ? 0.8 : 0.1;
}

// The same equation with hardly any resistance inside: one temperature, an open surface, no end of water.
BodyParameters Prior::liquid_parameters(Unknowns const& z) const {
    constexpr double surfaces = 3;  // of a sphere: surface times radius over volume
    auto const common = usual(entries_.surroundings);
    BodyParameters p;
    p.shape = Shape::sphere;
    p.biot = liquid_biot * std::exp(z[4]);
    p.off_centre = std::min(0.95, 0.4 * std::abs(static_cast<double>(z[7])));
    double const radius =
        entries_.mass_kg ? radius_of(*entries_.mass_kg, Shape::sphere) : usual_liquid_radius_m;
    double const h = common.h * std::exp(common.h_sd * z[1]);
    double const cools_s = water_heat_per_m3_k * radius / (surfaces * h) * std::exp(liquid_tau_sd * z[0]);
    p.tau_s = cools_s * surfaces * p.biot;
    p.radiant_share = entries_.surroundings == Surroundings::liquid ? 0 : 0.45;
    p.wetness = 0.2 * std::exp(0.8 * z[2]);
    p.vapour_pa = 1200 * std::exp(0.5 * z[3]);
    p.moisture_k = 1e6;
    p.start_c = start_c_ + start_sd_k_ * z[6];
    p.medium_gain = common.gain_sd * z[9];
    p.warms = 0;
    return p;
}

BodyParameters Prior::parameters(Shape shape, Unknowns const& z) const {
    if (entries_.liquid) return liquid_parameters(z);
    auto const common = usual(entries_.surroundings);
    BodyParameters p;
    p.shape = shape;
    p.tau_s = std::exp(ln_tau_ + tau_sd_ * (tau_sd_ < 0.5 ? heavy(z[0]) : z[0]));
    double const radius = std::sqrt(p.tau_s * diffusivity);
    p.biot = common.h * radius / conductivity * std::exp(common.h_sd * z[1]);
    p.radiant_share = entries_.surroundings == Surroundings::liquid ? 0 : 0.45;
    p.wetness = common.wetness * std::exp(common.wetness_sd * z[2]);
    p.vapour_pa = 2000 * std::exp(0.8 * z[3]);
    double const per_surface = shape == Shape::slab ? 1 : shape == Shape::cylinder ? 2 : 3;
    p.moisture_k =
        common.moisture * std::exp(common.moisture_sd * z[4]) * latent_over_capacity_k / per_surface;
    p.slows_from = 0.04 + 0.92 * normal_share(-0.9 + 0.8 * z[5]);
    p.start_c = start_c_ + start_sd_k_ * z[6];
    double const off = std::abs(z[7]);
    p.off_centre = std::min(0.9, 0.12 * off * (1 + off * off / 4));
    p.head_start = z[8] < 0.5 ? 0 : 0.02 * std::exp(1.2 * (z[8] - 0.5));
    p.medium_gain = common.gain_sd * z[9];
    return p;
}

}  // namespace ingle
