#include "tests/forecast/truth.hpp"

#include <algorithm>
#include <cmath>

namespace ingle::bench {
namespace {

// ASHRAE Fundamentals 2017, chapter 1, over water, 0 to 200 degC.
double saturation(double celsius) {
    double const t = std::max(celsius, 0.0) + 273.15;
    return std::exp(-5.8002206e3 / t + 1.3914993 - 4.8640239e-2 * t + 4.1764768e-5 * t * t -
                    1.4452093e-8 * t * t * t + 6.5459673 * std::log(t));
}

// Choi and Okos (1986), water, protein and fat: W/(m K), J/(m3 K) of the whole.
double conductivity(Food const& food, double c) {
    double const protein = 1 - food.water - food.fat;
    double const rho_w = 997.18 + 3.1439e-3 * c - 3.7574e-3 * c * c, rho_p = 1329.9 - 0.5184 * c,
                 rho_f = 925.59 - 0.41757 * c;
    double const v_w = food.water / rho_w, v_p = protein / rho_p, v_f = food.fat / rho_f;
    double const k = v_w * (0.57109 + 1.7625e-3 * c - 6.7036e-6 * c * c) +
                     v_p * (0.17881 + 1.1958e-3 * c - 2.7178e-6 * c * c) +
                     v_f * (0.18071 - 2.7604e-4 * c - 1.7749e-7 * c * c);
    return food.conductivity_factor * 0.96 * k / (v_w + v_p + v_f);
}
double capacity(Food const& food, double c) {
    double const protein = 1 - food.water - food.fat;
    double const rho_w = 997.18 + 3.1439e-3 * c - 3.7574e-3 * c * c, rho_p = 1329.9 - 0.5184 * c,
                 rho_f = 925.59 - 0.41757 * c;
    double const heat = food.water * (4176.2 - 0.0909 * c + 5.4731e-3 * c * c) +
                        protein * (2008.2 + 1.2089 * c - 1.3129e-3 * c * c) +
                        food.fat * (1984.2 + 1.4733 * c - 4.8008e-3 * c * c);
    return heat / (food.water / rho_w + protein / rho_p + food.fat / rho_f);
}

// kg/(m2 s) from a free water surface: film theory with Stefan flow, Lewis' relation.
double evaporation(double h, double surface_c, double dew_c) {
    constexpr double pressure = 101325, lewis = 0.91, cp_rho = 1006;
    double const film_k = surface_c + 273.15, over = std::min(saturation(surface_c), 0.97 * pressure);
    double const around = std::min(saturation(dew_c), 0.97 * pressure);
    double const rho = 353 / film_k, speed = h / (rho * cp_rho * lewis);
    return speed * pressure * 0.018015 / (8.314 * film_k) * std::log((pressure - around) / (pressure - over));
}

}  // namespace

Truth::Truth(Food const& food, Surface const& surface)
    : food_(food), surface_(surface), t_(nodes, food.start_c), surface_c_(food.start_c) {
    dr_ = food_.radius_m / nodes;
    water_kg_m2_ = surface.water_share * 1050 * food.radius_m / (food.geometry + 1);
    for (int i = 0; i <= nodes; ++i) area_.push_back(std::pow(i * dr_, food_.geometry));
    for (int i = 0; i < nodes; ++i) {
        double const n = food_.geometry + 1;
        volume_.push_back((std::pow((i + 1) * dr_, n) - std::pow(i * dr_, n)) / n);
    }
}

double Truth::at(double share) const {
    double const place = std::clamp(share * nodes - 0.5, 0.0, nodes - 1.0);
    int const i = std::min(static_cast<int>(place), nodes - 2);
    if (share * nodes < 0.5) {  // flat in the middle: parabola through the first two
        double const bend = (t_[1] - t_[0]) / 2, x = share * nodes;
        return t_[0] - bend / 4 + bend * x * x;
    }
    return t_[static_cast<std::size_t>(i)] +
           (place - i) * (t_[static_cast<std::size_t>(i) + 1] - t_[static_cast<std::size_t>(i)]);
}

// Where what comes in equals what is conducted on and what the vapour takes; bisection, then `inward` W/m2.
double Truth::surface_temperature(double medium, double conductance, double& inward) {
    auto const wet = water_ > 2e-4 ? surface_.wetness * std::min(1.0, water_ / surface_.slows_at) : 0;
    double const mean_k = (medium + surface_c_) / 2 + 273.15;
    double const h = surface_.h_convection + 4 * surface_.emissivity * 5.670e-8 * std::pow(mean_k, 3);
    auto const balance = [&](double ts) {
        double const vapour =
            wet > 0 ? wet * std::max(0.0, evaporation(surface_.h_convection, ts, surface_.dew_point_c)) *
                          (2.501e6 - 2361 * ts)
                    : 0;
        return h * (medium - ts) - vapour - conductance * (ts - t_.back());
    };
    if (wet <= 0) {
        double const ts = (h * medium + conductance * t_.back()) / (h + conductance);
        inward = conductance * (ts - t_.back());
        return ts;
    }
    double low = std::min({t_.back(), medium, 0.0}), high = std::max(t_.back(), medium);
    // Secant steps inside the bracket from the last surface temperature.
    double ts = std::clamp(surface_c_, low, high);
    for (int i = 0; i < 6; ++i) {
        double const f = balance(ts);
        (f > 0 ? low : high) = ts;
        double const slope = (balance(ts + 0.1) - f) / 0.1;
        double const next = slope < 0 ? ts - f / slope : (low + high) / 2;
        bool const near = std::abs(next - ts) < 1e-3;
        ts = next > low && next < high ? next : (low + high) / 2;
        if (near) break;
    }
    inward = conductance * (ts - t_.back());
    return ts;
}

void Truth::small_step(double dt, double medium) {
    std::vector<double> flux(nodes + 1, 0.0);  // outward positive through face i, per unit of its area
    for (int i = 1; i < nodes; ++i) {
        auto const a = static_cast<std::size_t>(i - 1), b = static_cast<std::size_t>(i);
        flux[b] = -conductivity(food_, (t_[a] + t_[b]) / 2) * (t_[b] - t_[a]) / dr_;
    }
    double inward = 0;
    surface_c_ = surface_temperature(medium, conductivity(food_, t_.back()) / (dr_ / 2), inward);
    flux[nodes] = -inward;
    if (surface_.wetness > 0 && water_ > 1e-4) {
        double const wet = surface_.wetness * std::min(1.0, water_ / surface_.slows_at);
        double const gone =
            wet * std::max(0.0, evaporation(surface_.h_convection, surface_c_, surface_.dew_point_c)) * dt;
        water_ = std::max(1e-4, water_ - gone / water_kg_m2_);
    }
    for (std::size_t i = 0; i < nodes; ++i)
        t_[i] +=
            dt * (area_[i] * flux[i] - area_[i + 1] * flux[i + 1]) / (volume_[i] * capacity(food_, t_[i]));
}

void Truth::step(double dt_s, double medium_c) {
    double const stable = 0.28 * dr_ * dr_ / (1.7e-7 * food_.conductivity_factor);
    int const parts = std::max(1, static_cast<int>(std::ceil(dt_s / stable)));
    for (int i = 0; i < parts; ++i) small_step(dt_s / parts, medium_c);
}

}  // namespace ingle::bench
