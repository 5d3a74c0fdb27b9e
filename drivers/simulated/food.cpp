#include "drivers/simulated/food.hpp"

#include <algorithm>
#include <cmath>
#include <numeric>

namespace ingle::simulated {

Food::Food(Body body, double celsius, int cells)
    : body_(body),
      width_(body.half_thickness / cells),
      celsius_(static_cast<std::size_t>(cells), celsius),
      surface_(celsius) {
    int const p = static_cast<int>(body.form);
    for (int i = 0; i < cells; ++i) {
        double const inner = i * width_, outer = (i + 1) * width_;
        volume_.push_back((std::pow(outer, p + 1) - std::pow(inner, p + 1)) / (p + 1));
        area_.push_back(std::pow(outer, p));
    }
}

double Food::step(double seconds, double medium, double h, double drain) {
    double const between = body_.conductivity / width_;                 // W/(m2 K), cell to cell
    double const skin = 1 / (1 / h + width_ / 2 / body_.conductivity);  // medium to the outermost cell
    double const per_volume = body_.density * body_.heat_capacity;
    double longest = seconds;
    for (std::size_t i = 0; i < volume_.size(); ++i) {
        double const inner = i ? area_[i - 1] * between : 0;
        double const outer = area_[i] * (i + 1 < volume_.size() ? between : skin);
        longest = std::min(longest, 0.5 * per_volume * volume_[i] / (inner + outer));
    }
    int const steps = static_cast<int>(std::ceil(seconds / longest));
    double const dt = seconds / steps;
    double taken = 0;
    for (int s = 0; s < steps; ++s) {
        double const flux = skin * (medium - celsius_.back()) - drain;  // W/m2 through the surface
        double from_inside = 0;                                         // W into the cell over its inner face
        for (std::size_t i = 0; i < volume_.size(); ++i) {
            bool const last = i + 1 == volume_.size();
            double const outwards =
                last ? -flux * area_[i] : between * area_[i] * (celsius_[i] - celsius_[i + 1]);
            celsius_[i] += (from_inside - outwards) * dt / (per_volume * volume_[i]);
            from_inside = outwards;
        }
        taken += flux * dt;
        surface_ = celsius_.back() + flux * width_ / 2 / body_.conductivity;
    }
    return taken;
}

double Food::centre() const {
    // The parabola with no slope at the centre through the two innermost cells.
    return celsius_[0] - (celsius_[1] - celsius_[0]) / 8;
}

double Food::mean() const {
    double const whole = std::accumulate(volume_.begin(), volume_.end(), 0.0);
    return std::inner_product(celsius_.begin(), celsius_.end(), volume_.begin(), 0.0) / whole;
}

double Food::heat_per_area() const {
    double const whole = std::accumulate(volume_.begin(), volume_.end(), 0.0);
    return body_.density * body_.heat_capacity * mean() * whole / area_.back();
}

}  // namespace ingle::simulated
