#include "tools/cli/probe/calibration.hpp"

#include <algorithm>
#include <array>
#include <cmath>

#include "config/calibration.hpp"

namespace ingle::cli {

Steadiness steadiness(std::span<Sample const> samples, double window_s, TemperatureUnit unit) {
    auto const kelvin = [&](double value, int digits) {
        return show(TemperatureDifference{value}, unit, digits);
    };
    Steadiness out;
    if (!samples.empty()) {
        auto from = samples.back().at_s - window_s;
        if (samples.size() >= fewest_samples)  // a slow probe takes longer
            from = std::min(from, samples[samples.size() - fewest_samples].at_s);
        auto const first = std::ranges::lower_bound(samples, from, {}, &Sample::at_s);
        samples = samples.subspan(static_cast<std::size_t>(first - samples.begin()));
    }
    out.count = samples.size();
    if (samples.empty()) {
        out.why_not = "no reading yet";
        return out;
    }
    double mean_t = 0;
    for (auto const& s : samples) mean_t += s.at_s, out.celsius += s.celsius;
    auto const n = static_cast<double>(samples.size());
    mean_t /= n, out.celsius /= n;
    double tt = 0, tc = 0, cc = 0;
    for (auto const& s : samples) {
        auto const t = s.at_s - mean_t, c = s.celsius - out.celsius;
        tt += t * t, tc += t * c, cc += c * c;
    }
    double const slope = tt > 0 ? tc / tt : 0;
    out.drift = slope * 60;
    out.scatter = n > 2 ? std::sqrt(std::max(0.0, cc - slope * tc) / (n - 2)) : 0;
    out.lasted_s = samples.back().at_s - samples.front().at_s;
    auto const change = std::abs(slope) * out.lasted_s;
    if (n >= fewest_samples && out.scatter > most_scatter) {  // around the line; its slope means little then
        out.why_not = "restless, by " + kelvin(out.scatter, 2);
    } else if (n >= fewest_samples && (std::abs(out.drift) > most_drift || change > most_change)) {
        out.why_not = std::string("still ") + (slope < 0 ? "falling" : "rising") + " by " +
                      kelvin(std::abs(out.drift), 2) + " a minute";
    } else if (out.lasted_s < 0.95 * window_s || n < fewest_samples) {
        out.why_not = "steady for " + std::to_string(static_cast<int>(out.lasted_s)) + " s so far";
    }
    out.steady = out.why_not.empty();
    return out;
}

std::string suspicion(double reads, double is, std::optional<ThermocoupleType> type,
                      std::optional<double> cold_junction) {
    constexpr double alike = 2.0;  // K
    if (!type || !cold_junction || std::abs(reads - is) < most_calibration_offset.kelvin) return {};
    if (std::abs(reads + is - 2 * *cold_junction) < alike)
        return "it reads as if + and - of the probe were swapped";
    auto const hot = emf_mv(*type, reads), cold = emf_mv(*type, *cold_junction);
    if (!hot || !cold) return {};
    std::optional<ThermocoupleType> best;
    double least = alike;
    constexpr std::array all{ThermocoupleType::K, ThermocoupleType::J, ThermocoupleType::T,
                             ThermocoupleType::E, ThermocoupleType::N, ThermocoupleType::S,
                             ThermocoupleType::R, ThermocoupleType::B};
    for (auto const other : all) {
        auto const really = other == *type ? std::nullopt : compensate(other, *hot - *cold, *cold_junction);
        if (really && std::abs(*really - is) < least) {
            least = std::abs(*really - is);
            best = other;
        }
    }
    if (!best) return {};
    return std::string("it reads as a type ") + letter_of(*best) + " thermocouple would where type " +
           letter_of(*type) + " is set";
}

bool confirm_each_other(std::span<CalibrationPoint const> points) {
    constexpr double alike = 1.5;  // K
    if (points.size() != 2) return false;
    auto const off = [](CalibrationPoint const& p) { return p.is.celsius - p.reads.celsius; };
    return std::abs(off(points[0]) - off(points[1])) <= alike;
}

std::string kitchen_line(std::span<CalibrationPoint const> points, TemperatureUnit unit) {
    std::string line = "calibration = [";
    for (auto const& point : points) {
        if (line.back() != '[') line += ", ";
        line +=
            "{ reads = \"" + show(point.reads, unit, 2) + "\", is = \"" + show(point.is, unit, 2) + "\" }";
    }
    return line + "]";
}

}  // namespace ingle::cli
