// How the watches say numbers to the cook: in the kitchen's unit, with one decimal. Pure; any thread.
#pragma once

#include <cmath>
#include <string>

#include "config/quantity.hpp"
#include "drivers/reading/clock.hpp"

namespace ingle {

class Words {
public:
    explicit Words(TemperatureUnit unit) : unit_(unit) {}
    std::string at(double celsius) const { return show(Temperature{celsius}, unit_); }
    std::string by(double kelvin) const { return show(TemperatureDifference{std::abs(kelvin)}, unit_); }
    std::string band(double low, double high) const { return at(low) + " to " + at(high); }
    static constexpr double steady_k_per_min = 0.05;
    // "rising 1.4 degC/min", or "steady".
    std::string moving(double kelvin_per_second) const {
        double const k = kelvin_per_second * 60;
        if (std::abs(k) < steady_k_per_min) return "steady";
        return (k > 0 ? "rising " : "falling ") + by(k) + "/min";
    }
    static std::string in(Span span) { return show(Duration{std::max(0.0, std::round(seconds(span)))}); }
    // "about 7 min": a forecast is not said to the second.
    static std::string about(double s) {
        double const step = s < 120 ? 10 : s < 5400 ? 60 : 300;
        return "about " + show(Duration{std::max(step, std::round(s / step) * step)});
    }

private:
    TemperatureUnit unit_;
};

}  // namespace ingle
