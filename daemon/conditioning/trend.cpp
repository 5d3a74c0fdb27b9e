#include "daemon/conditioning/trend.hpp"

#include <cmath>

namespace ingle {

namespace {

// Before anything is known the slope may be anything that a kitchen does: a probe put into a hot pot.
constexpr double first_slope_sd = 0.1;  // K/s

}  // namespace

void Trend::jump(double celsius, double noise, double slope_sd, double slope) {
    begun_ = true;
    level_ = celsius;
    slope_ = slope;
    p11_ = noise * noise;
    p12_ = 0;
    p22_ = slope_sd * slope_sd;
}

void Trend::loosen(double slope_sd) {
    p22_ += slope_sd * slope_sd;
}

double Trend::take(double dt, double celsius, double noise) {
    if (!begun_) {
        jump(celsius, noise, first_slope_sd);
        gain_level_ = 1;
        return 0;
    }
    double const q = slope_walk_;
    double const a11 = p11_ + dt * (2 * p12_ + dt * p22_) + q * dt * dt * dt / 4;
    double const a12 = p12_ + dt * p22_ + q * dt * dt / 2;
    double const a22 = p22_ + q * dt;
    double const innovation = celsius - (level_ + dt * slope_);
    double const r = noise * noise;
    double const s = a11 + r;
    double const k1 = a11 / s, k2 = a12 / s;
    level_ += dt * slope_ + k1 * innovation;
    slope_ += k2 * innovation;
    // r * k1 instead of (1 - k1) * a11: never negative by rounding.
    p11_ = r * k1;
    p12_ = r * k2;
    p22_ = a22 - k2 * a12;
    gain_level_ = k1;
    gain_slope_ = k2;
    return innovation / std::sqrt(s);
}

}  // namespace ingle
