#include "daemon/food/body_bounds.hpp"

#include <algorithm>
#include <cmath>

namespace ingle {
namespace {

constexpr double quick_diffusivity = 1.5e-7;  // m2/s, of moist meat at 80 degC (food_properties.hpp), or more
// Of the step response at the middle, by the series of daemon/forecast/conduction without a resistance at the
// surface: the steepest rate, of a/R^2 dT, and the steepest bend, of (a/R^2)^2 dT.
// And the decay of its slowest mode, of a/R^2: (pi/2)^2, the square of the first zero of J0, pi^2.
struct Steepest {
    double rate = 0, bend = 0, decay = 0;
};
constexpr Steepest slab{1.851, 26.5, 2.467}, cylinder{3.802, 75.8, 5.783}, sphere{5.922, 151.8, 9.870};
// What is said of a thickness may be a fifth too much, and the tip beside the middle; a bend goes with the
// fourth power of it.
constexpr double thickness_doubt = 0.8;
constexpr double least_fourier = 0.01, longest_fourier = 2;  // a sphere has not begun; it is there
constexpr int terms = 12, halvings = 40;                     // to 1e-5 and better
constexpr double pi = 3.141592653589793;

Steepest steepest(Shape shape) {
    switch (shape) {
        case Shape::slab:
            return slab;
        case Shape::cylinder:
            return cylinder;
        case Shape::sphere:
            break;
    }
    return sphere;
}

double sphere_centre(double fourier) {
    double left = 0;
    for (int n = 1; n <= terms; ++n) left += (n % 2 == 1 ? 2 : -2) * std::exp(-(n * pi) * (n * pi) * fourier);
    return std::clamp(1 - left, 0.0, 1.0);
}

double fourier_per_second(double thickness_m) {
    return quick_diffusivity / (thickness_m * thickness_m / 4);
}

}  // namespace

BodyBounds::BodyBounds(std::optional<Length> thickness, std::optional<Shape> shape, double least_m) {
    bool const said = thickness && thickness->metres > 0;
    auto const most = steepest(shape.value_or(Shape::sphere));
    slowest_mode_ = most.decay;
    if (said) {
        double const per_s = fourier_per_second(thickness_doubt * thickness->metres);
        rate_ = most.rate * per_s;
        bend_ = most.bend * per_s * per_s;
    }
    double const across = said ? thickness_doubt * thickness->metres : least_m;
    if (across > 0) fourier_per_s_ = fourier_per_second(across);
}

std::optional<double> BodyBounds::bend(double whole_k) const {
    return bend_ ? std::optional(*bend_ * whole_k) : std::nullopt;
}

std::optional<double> BodyBounds::rate(double whole_k) const {
    return rate_ ? std::optional(*rate_ * whole_k) : std::nullopt;
}

double BodyBounds::relaxed(double seconds) const {
    return fourier_per_s_ == 0 ? 1 : 1 - std::exp(-slowest_mode_ * fourier_per_s_ * seconds);
}

double BodyBounds::share_after(double share, double seconds) const {
    if (fourier_per_s_ == 0) return 1;
    double low = least_fourier, high = longest_fourier;
    for (int i = 0; i < halvings; ++i) {
        double const middle = (low + high) / 2;
        (sphere_centre(middle) < share ? low : high) = middle;
    }
    return sphere_centre(low + fourier_per_s_ * std::max(0.0, seconds));
}

}  // namespace ingle
