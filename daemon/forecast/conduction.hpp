// Heating and cooling of a body by conduction: the exact series for a slab, a long cylinder and a sphere of
// one temperature set into a medium of another, and the time it takes a core. Pure; any thread.
#pragma once

#include <array>
#include <optional>
#include <string>
#include <string_view>

#include "config/quantity.hpp"
#include "config/settings.hpp"
#include "daemon/food/classes.hpp"
#include "daemon/food/food_properties.hpp"

namespace ingle {

// theta = (T - T_medium) / (T_start - T_medium) over the Fourier number a t / R^2, R = half the thickness;
// the Biot number is h R / k. Carslaw and Jaeger's series, 40 terms: to 1e-9 from Fo = 0.01 on.
class Conduction {
public:
    static constexpr std::size_t terms = 40;
    // The first `count` terms are worked out, 40 at most.
    Conduction(Shape shape, double biot, std::size_t count = terms);

    double centre(double fourier) const { return theta(fourier, 0); }
    double surface(double fourier) const { return theta(fourier, 1); }
    double theta(double fourier, double place) const;  // place 0 (centre) to 1 (surface)
    double fourier_at_centre(double theta) const;      // inverse of `centre`, 0 < theta < 1
    double root(std::size_t n) const { return roots_.at(n); }
    double coefficient(std::size_t n) const { return coefficients_.at(n); }

private:
    Shape shape_;
    std::size_t count_;
    std::array<double, terms> roots_{}, coefficients_{};
};

enum class Around { still_air, moving_air, liquid };
// Heat transfer coefficient, W/(m2 K): oven and smoker 18 (Kreith's roast), moving air 20 and stirred liquid
// 300 (from James' published chilling times of rolled beef in both).
double surface_coefficient(Around around);

struct CookTime {
    std::optional<double> seconds, low_s, high_s;  // all or none
    std::string why;                               // what it rests on, or why there is none
};
// How long a core takes from `start` to `target` in a medium that keeps its temperature; cooling too. What is
// around the food: if not said, air above 100 degC and liquid below. Low and high: diffusivity 10 % off, and
// the surface coefficient off by a factor of 1.7, which is how well handbooks know it.
CookTime cook_time(FoodClass const& food, Shape shape, Length thickness, Temperature start,
                   Temperature medium, Temperature target, std::optional<Around> around = {});

}  // namespace ingle
