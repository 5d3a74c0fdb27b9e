#include "daemon/forecast/conduction.hpp"

#include <algorithm>
#include <cmath>
#include <numbers>

namespace ingle {
namespace {

double j0(double x) {
    return std::cyl_bessel_j(0.0, x);
}
double j1(double x) {
    return std::cyl_bessel_j(1.0, x);
}

// The root of f between two places where its sign differs (or where it only just touches zero).
template <class F>
double bisect(F const& f, double low, double high) {
    bool const rising = f(low + 1e-12) < 0;
    for (int i = 0; i < 200 && high - low > 1e-15 * (1 + high); ++i) {
        double const middle = (low + high) / 2;
        ((f(middle) < 0) == rising ? low : high) = middle;
    }
    return (low + high) / 2;
}

double root_of(Shape shape, double biot, std::size_t number) {
    double const pi = std::numbers::pi, n = static_cast<double>(number);
    switch (shape) {
        case Shape::slab:
            return bisect([&](double z) { return z * std::sin(z) - biot * std::cos(z); }, n * pi,
                          (n + 0.5) * pi);
        case Shape::sphere:
            return bisect([&](double z) { return (1 - biot) * std::sin(z) - z * std::cos(z); }, n * pi,
                          (n + 1) * pi);
        case Shape::cylinder:
            break;
    }
    // Each root lies between two zeros of J1, of which the n-th lies between n pi and (n + 1/2) pi.
    auto const zero = [&](double k) { return k == 0 ? 0.0 : bisect(j1, k * pi, (k + 0.5) * pi); };
    return bisect([&](double z) { return z * j1(z) - biot * j0(z); }, zero(n), zero(n + 1));
}

double coefficient_of(Shape shape, double z) {
    switch (shape) {
        case Shape::slab:
            return 4 * std::sin(z) / (2 * z + std::sin(2 * z));
        case Shape::sphere:
            return 4 * (std::sin(z) - z * std::cos(z)) / (2 * z - std::sin(2 * z));
        case Shape::cylinder:
            break;
    }
    return 2 / z * j1(z) / (j0(z) * j0(z) + j1(z) * j1(z));
}

double profile(Shape shape, double z) {
    if (z < 1e-9) return 1;
    return shape == Shape::slab ? std::cos(z) : shape == Shape::sphere ? std::sin(z) / z : j0(z);
}

double seconds_for(Shape shape, double radius, double theta, double diffusivity, double conductivity,
                   double h) {
    Conduction const body(shape, h * radius / conductivity);
    return body.fourier_at_centre(theta) * radius * radius / diffusivity;
}

}  // namespace

Conduction::Conduction(Shape shape, double biot, std::size_t count)
    : shape_(shape), count_(std::min(count, terms)) {
    for (std::size_t n = 0; n < count_; ++n) {
        roots_[n] = root_of(shape, biot, n);
        coefficients_[n] = coefficient_of(shape, roots_[n]);
    }
}

double Conduction::theta(double fourier, double place) const {
    double sum = 0;
    for (std::size_t n = 0; n < count_; ++n) {
        double const fall = std::exp(-roots_[n] * roots_[n] * fourier);
        sum += coefficients_[n] * fall * profile(shape_, roots_[n] * place);
        if (fall < 1e-16) break;
    }
    return sum;
}

double Conduction::fourier_at_centre(double theta) const {
    double low = 0, high = 1;
    while (centre(high) > theta && high < 1e9) high *= 2;
    for (int i = 0; i < 100; ++i) {
        double const middle = (low + high) / 2;
        // The truncated series is not to be trusted at the very start; there the centre has not moved.
        (middle < 0.002 || centre(middle) > theta ? low : high) = middle;
    }
    return (low + high) / 2;
}

double surface_coefficient(Around around) {
    switch (around) {
        case Around::still_air:
            return 18;
        case Around::moving_air:
            return 20;
        case Around::liquid:
            break;
    }
    return 300;
}

CookTime cook_time(FoodClass const& food, Shape shape, Length thickness, Temperature start,
                   Temperature medium, Temperature target, std::optional<Around> around) {
    CookTime answer;
    if (food.name == "stock") {
        answer.why = "a liquid mixes by itself: no conduction through a body can be reckoned";
        return answer;
    }
    if (!(thickness.metres > 0)) {
        answer.why = "the thickness must be more than nothing";
        return answer;
    }
    double const theta = (target.celsius - medium.celsius) / (start.celsius - medium.celsius);
    if (!(theta > 0) || !std::isfinite(theta)) {
        answer.why = "a medium of that temperature never brings the core to the target";
        return answer;
    }
    if (theta >= 1) {
        answer.why = "the core is there already";
        answer.seconds = answer.low_s = answer.high_s = 0;
        return answer;
    }
    auto const what = around.value_or(medium.celsius > 100 ? Around::still_air : Around::liquid);
    double const radius = thickness.metres / 2, h = surface_coefficient(what);
    double const k = meat_properties.conductivity, a = meat_properties.diffusivity();
    answer.seconds = seconds_for(shape, radius, theta, a, k, h);
    answer.low_s = seconds_for(shape, radius, theta, 1.1 * a, k, 1.7 * h);
    answer.high_s = seconds_for(shape, radius, theta, 0.9 * a, k, h / 1.7);
    answer.why = "conduction from one even temperature in a medium that stays as it is, a = 1.38e-7 m2/s, ";
    answer.why += what == Around::liquid ? "in liquid (300 W/(m2 K))" : "in air (about 20 W/(m2 K))";
    if (what != Around::liquid && medium.celsius > start.celsius)
        answer.why += "; a surface that dries, as in a smoker, takes longer";
    return answer;
}

}  // namespace ingle
