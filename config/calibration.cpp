#include "config/calibration.hpp"

#include <cmath>

namespace ingle {
namespace {

constexpr double least_gain = 0.97, most_gain = 1.03;
constexpr double least_span_k = 50;  // between two calibration points, or their errors make the gain

}  // namespace

std::vector<CalibrationProblem> calibration_problems(std::span<CalibrationPoint const> points) {
    std::vector<CalibrationProblem> problems;
    for (std::size_t i = 0; i < points.size(); ++i) {
        auto const offset = points[i].is - points[i].reads;
        if (std::abs(offset.kelvin) > most_calibration_offset.kelvin)
            problems.push_back({i,
                                "moves the reading by " + show(offset, TemperatureUnit::celsius) +
                                    ", which is no small error but the wrong bath or the wrong probe",
                                "measure again; at most 5 degC (9 degF) is corrected"});
    }
    if (points.size() > 2) {
        problems.push_back({{},
                            "has " + std::to_string(points.size()) + " points",
                            "one point (an offset) or two (an offset and a gain)"});
    } else if (points.size() == 2) {
        auto const span = points[1].reads - points[0].reads;
        auto const truth = points[1].is - points[0].is;
        if (std::abs(span.kelvin) < least_span_k)
            problems.push_back(
                {{},
                 "has two points closer than 50 degC (90 degF), so their errors would be multiplied",
                 "use ice water and boiling water, or keep one point"});
        else if (auto const gain = truth.kelvin / span.kelvin; gain < least_gain || gain > most_gain)
            problems.push_back({{},
                                "stretches the scale by more than 3 %, which no sound probe needs",
                                "measure both points again: one of them is wrong"});
    }
    return problems;
}

}  // namespace ingle
