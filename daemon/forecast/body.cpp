#include "daemon/forecast/body.hpp"

#include <algorithm>
#include <cmath>
#include <vector>

namespace ingle {
namespace {

// Lewis: mass and heat transfer go together. L 0.622 / (c_p Le^(2/3) p) with L 2.35 MJ/kg, c_p 1005 J/(kg K),
// Le^(2/3) 0.9, p 101325 Pa: by how many kelvin of the medium one pascal of vapour cools a wet surface.
constexpr float kelvin_per_pascal = 0.01595F;
constexpr float hottest_wet_c = 99;
constexpr float pressure_pa = 101325;
constexpr float table_from = -20, table_to = 99, table_step = 0.25F;

struct Evaporation {
    std::vector<float> pa;
    Evaporation() {
        auto const count = static_cast<int>((table_to - table_from) / table_step) + 2;
        for (int i = 0; i < count; ++i) {
            double const t = table_from + i * static_cast<double>(table_step);
            double const over = 611.21 * std::exp((18.678 - t / 234.5) * t / (257.14 + t));
            double const latent = (2.501e6 - 2361 * t) / 2.35e6;
            pa.push_back(static_cast<float>(-latent * pressure_pa * std::log1p(-over / pressure_pa)));
        }
    }
};

struct PressureAndSlope {
    float pa, per_k;
};

PressureAndSlope evaporation(float celsius) {
    static const Evaporation table;
    float const at = (std::clamp(celsius, table_from, table_to) - table_from) / table_step;
    auto const i = static_cast<std::size_t>(at);
    float const rise = table.pa[i + 1] - table.pa[i];
    return {table.pa[i] + (at - static_cast<float>(i)) * rise, rise / table_step};
}

float dot(ModeRow const& a, ModeRow const& b) {
    float lane[4] = {};
    for (std::size_t i = 0; i < 4; ++i) lane[i] = a[i] * b[i] + a[i + 4] * b[i + 4];
    return (lane[0] + lane[1]) + (lane[2] + lane[3]);
}

}  // namespace

float evaporation_pa(float celsius) {
    return evaporation(celsius).pa;
}

float diffusivity_share(float celsius) {
    float const above = std::clamp(celsius, 0.0F, 100.0F) - 40;
    return 1 + above * (2.25e-3F - 8e-6F * above);
}

Body::Body(BodyParameters const& p, double first_medium_c)
    : modes_(modes_of(p.shape, p.biot, p.off_centre)),
      gain_(static_cast<float>(p.medium_gain)),
      start_(static_cast<float>(p.start_c)),
      // Where the surface holds the heat back, conduction decides the less (first roots over Biot).
      warms_(static_cast<float>(p.warms * p.biot / (p.biot + 2.9))),
      radiant_(static_cast<float>(p.radiant_share)),
      wet_(kelvin_per_pascal * static_cast<float>(p.wetness)),
      vapour_(static_cast<float>(p.vapour_pa)),
      slows_from_(static_cast<float>(p.slows_from)),
      spent_per_k_s_(static_cast<float>(p.biot / (p.tau_s * p.moisture_k))),
      surface_c_(static_cast<float>(p.start_c)),
      place_c_(static_cast<float>(p.start_c)),
      tau_(p.tau_s) {
    state_.fill(start_);
    if (p.head_start <= 0) return;
    // It was even at such a temperature that the probe now shows `start_c`.
    auto const kept = decay(modes_, p.head_start);
    float fresh = modes_.place_rest, old = 0;
    for (std::size_t n = 0; n < mode_count; ++n) {
        fresh += modes_.place[n] * (1 - kept[n]);
        old += modes_.place[n] * kept[n];
    }
    auto const m0 = static_cast<float>(first_medium_c);
    float const even = std::clamp((start_ - fresh * m0) / std::max(old, 0.05F), std::min(start_, -5.0F),
                                  std::max(start_, m0));
    for (std::size_t n = 0; n < mode_count; ++n) state_[n] = even * kept[n] + (1 - kept[n]) * m0;
}

void Body::use_step(double dt_s) {
    dt_ = dt_s;
    left_ = decay(modes_, dt_s / tau_);
    for (std::size_t n = 0; n < mode_count; ++n)
        exponent_[n] = std::min(modes_.rate[n] * static_cast<float>(dt_s / tau_), 10.0F);
    ModeRow fresh{};
    for (std::size_t n = 0; n < mode_count; ++n) fresh[n] = 1 - left_[n];
    surface_gain_ = dot(modes_.surface, fresh) + modes_.surface_rest;
    spent_per_k_ = spent_per_k_s_ * static_cast<float>(dt_s);
}

void Body::double_step() {
    dt_ *= 2;
    ModeRow fresh{};
    for (std::size_t n = 0; n < mode_count; ++n) {
        left_[n] *= left_[n];
        exponent_[n] = std::min(2 * exponent_[n], 10.0F);
        fresh[n] = 1 - left_[n];
    }
    surface_gain_ = dot(modes_.surface, fresh) + modes_.surface_rest;
    spent_per_k_ *= 2;
}

// Of the medium, K. `without`: the surface if the medium were at 0 degC. Two Newton steps from the last one.
float Body::depression(float without, float medium) {
    float const wet = wet_ * std::min(1.0F, moisture_ / slows_from_);
    float const dry = without + surface_gain_ * medium;
    float const highest = std::clamp(dry, table_from, hottest_wet_c);
    for (int i = 0; i < 2; ++i) {
        auto const [pa, per_k] = evaporation(surface_c_);
        float const over = pa - vapour_;
        float const d = over > 0 ? wet * over : 0, slope = over > 0 ? wet * per_k : 0;
        float const miss = without + surface_gain_ * (medium - d) - surface_c_;
        surface_c_ = std::clamp(surface_c_ + miss / (1 + surface_gain_ * slope), -20.0F, highest);
    }
    float const d = std::max(0.0F, wet * (evaporation(surface_c_).pa - vapour_));
    moisture_ -= std::min(0.9999F * moisture_, d * spent_per_k_);
    return d;
}

float Body::step(float medium_c) {
    float medium = medium_c + gain_ * (medium_c - start_);
    // Warm food conducts better: the step is as much longer as its mean temperature asks, to second order.
    float const more = warms_ * (diffusivity_share((place_c_ + surface_c_) / 2) - 1);
    ModeRow kept{};
    for (std::size_t n = 0; n < mode_count; ++n) {
        float const x = exponent_[n] * more;
        kept[n] = left_[n] * (1 - x + 0.5F * x * x);
        state_[n] *= kept[n];
    }
    float const without = dot(modes_.surface, state_);
    if (radiant_ > 0) {  // what radiates in beyond the reference, as if the medium were as much warmer
        float const now = 273.15F + (medium + surface_c_) / 2, reference = 273.15F + (medium + 50) / 2;
        float const ratio = now / reference;
        medium += radiant_ * (ratio * ratio * ratio - 1) * (medium - surface_c_);
    }
    if (wet_ > 0) {
        medium -= depression(without, medium);
    } else {
        surface_c_ = without + surface_gain_ * medium;
    }
    for (std::size_t n = 0; n < mode_count; ++n) state_[n] += (1 - kept[n]) * medium;
    place_c_ = dot(modes_.place, state_) + modes_.place_rest * medium;
    return place_c_;
}

}  // namespace ingle
