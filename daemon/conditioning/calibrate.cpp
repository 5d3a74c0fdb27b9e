#include "daemon/conditioning/calibrate.hpp"

#include <cmath>

namespace ingle {

namespace {

constexpr double furthest_off = 5.0;
constexpr double least_apart = 50.0;
constexpr double least_gain = 0.97, most_gain = 1.03;

}  // namespace

Calibration calibration_from(std::span<CalibrationPoint const> points) {
    if (points.empty()) return {};
    CalibrationPoint const a = points[0];
    if (points.size() > 1) {
        CalibrationPoint const b = points[1];
        double const apart = b.reads.celsius - a.reads.celsius;
        if (std::abs(apart) > 1e-9) {
            double const gain = (b.is.celsius - a.is.celsius) / apart;
            return {gain, a.is.celsius - gain * a.reads.celsius};
        }
    }
    return {1.0, a.is.celsius - a.reads.celsius};
}

std::optional<std::string> doubt_about(std::span<CalibrationPoint const> points) {
    if (points.size() > 2) return "one or two points are understood, not more";
    for (CalibrationPoint const& p : points)
        if (std::abs(p.reads.celsius - p.is.celsius) > furthest_off)
            return "the probe is more than 5 K (9 degF) off: check the bath, the probe and its wires first";
    if (points.size() == 2) {
        if (std::abs(points[1].is.celsius - points[0].is.celsius) < least_apart)
            return "the two points are less than 50 K (90 degF) apart: use ice and boiling water";
        double const gain = calibration_from(points).gain;
        if (gain < least_gain || gain > most_gain)
            return "the two points disagree by more than 3 %: measure both again";
    }
    return std::nullopt;
}

}  // namespace ingle
