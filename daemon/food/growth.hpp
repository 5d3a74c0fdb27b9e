// Growth of Clostridium perfringens while cooked food cools: a bound and a warning, never a verdict. Also the
// published dynamic growth model that the arithmetic is checked against. Pure; any thread.
#pragma once

#include <span>
#include <string_view>

#include "daemon/food/state.hpp"
#include "daemon/food/step.hpp"

namespace ingle {

// Cardinal temperatures (degC) and the best rate (ln per hour).
struct Cardinal {
    double t_min, t_opt, t_max, mu_opt;
};
// Rosso's cardinal temperature model: growth rate, ln per hour; 0 outside (t_min, t_max).
double cardinal_rate(Cardinal const& model, double celsius);

// "one-step dynamic" fits for C. perfringens; that they are of the cardinal model is an assumption, the
// abstract does not say.
inline constexpr Cardinal perfringens_chicken{8.8, 46.4, 51.5, 6.06};
inline constexpr Cardinal perfringens_beef{10.3, 43.5, 53.4, 5.64};
inline constexpr double growth_standard_log10 = 1.0;  // 9 CFR 318.17(a)(2): at most 1 log10 while it cools
inline constexpr std::string_view growth_source =
    "cardinal growth rates of C. perfringens in roasted chicken and braised beef (Food Control, one-step "
    "dynamic "
    "fits), the larger of the two";

// Running bound of the growth: no lag, the faster of the two fits, gaps at their worst. Published predictions
// with lag are less than half (1.1 log10 where this gives 2.4 to 2.6), and replicates differ by up to 1
// log10.
class GrowthBound {
public:
    void add(Step const& step);
    void clear() { chicken_ = beef_ = 0; }
    double log10() const;  // at most
    void fields(FieldVisitor& visit);

private:
    double chicken_ = 0, beef_ = 0;  // ln
};

// Huang's dynamic model with its square-root secondary model sqrt(mu) = a (T - t_min)^0.75:
// dY/dt = mu(T) / (1 + exp(-4 (t - lag))) * (1 - exp(Y - Ymax)), Y = ln N; time in the profile's unit.
struct HuangModel {
    double log10_start, log10_most, a, t_min, lag;
};
// log10 N at the time `until` along the profile (points joined by straight lines), by fourth-order
// Runge-Kutta.
double huang_growth(HuangModel const& model, std::span<FoodSample const> profile, double until, double step);

}  // namespace ingle
