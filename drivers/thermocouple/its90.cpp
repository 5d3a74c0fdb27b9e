#include "drivers/thermocouple/its90.hpp"

#include <algorithm>
#include <cmath>
#include <span>

#include "drivers/thermocouple/its90_coefficients.hpp"

namespace ingle {
namespace {

constexpr std::string_view letters = "BEJKNRST";  // in the order of ThermocoupleType
constexpr double table_rounding_mv = 0.0005;

std::span<its90::Segment const> segments(ThermocoupleType type) {
    switch (type) {
        case ThermocoupleType::B:
            return its90::b;
        case ThermocoupleType::E:
            return its90::e;
        case ThermocoupleType::J:
            return its90::j;
        case ThermocoupleType::K:
            return its90::k;
        case ThermocoupleType::N:
            return its90::n;
        case ThermocoupleType::R:
            return its90::r;
        case ThermocoupleType::S:
            return its90::s;
        case ThermocoupleType::T:
            return its90::t;
    }
    return {};
}

struct Emf {
    double millivolts, per_kelvin;
};

// `t` is inside emf_range.
Emf evaluate(ThermocoupleType type, double t) {
    auto const all = segments(type);
    auto const found = std::find_if(all.begin(), all.end(), [t](auto const& s) { return t <= s.high; });
    auto const& segment = found == all.end() ? all.back() : *found;
    double value = 0, slope = 0;
    for (auto c = segment.c.rbegin(); c != segment.c.rend(); ++c) {
        slope = slope * t + value;
        value = value * t + *c;
    }
    if (type == ThermocoupleType::K && t > 0) {
        auto const& [a0, a1, a2] = its90::k_exponential;
        double const extra = a0 * std::exp(a1 * (t - a2) * (t - a2));
        value += extra;
        slope += extra * 2 * a1 * (t - a2);
    }
    // At 0 degC the exponential and the constant term of its segment cancel: both segments meet at 0 mV.
    return {value, slope};
}

}  // namespace

std::optional<ThermocoupleType> thermocouple_type_from(std::string_view letter) {
    if (letter.size() != 1) return std::nullopt;
    char const upper =
        letter[0] >= 'a' && letter[0] <= 'z' ? static_cast<char>(letter[0] - 'a' + 'A') : letter[0];
    auto const place = letters.find(upper);
    if (place == std::string_view::npos) return std::nullopt;
    return static_cast<ThermocoupleType>(place);
}

char letter_of(ThermocoupleType type) {
    return letters[static_cast<std::size_t>(type)];
}

ClosedRange emf_range(ThermocoupleType type) {
    auto const all = segments(type);
    return {all.front().low, all.back().high};
}

ClosedRange celsius_range(ThermocoupleType type) {
    auto range = emf_range(type);
    if (type == ThermocoupleType::B) range.low = 200;
    return range;
}

std::optional<double> emf_mv(ThermocoupleType type, double celsius) {
    auto const range = emf_range(type);
    if (!(celsius >= range.low && celsius <= range.high)) return std::nullopt;
    return evaluate(type, celsius).millivolts;
}

std::optional<double> celsius(ThermocoupleType type, double millivolts) {
    auto [low, high] = celsius_range(type);
    double const at_low = evaluate(type, low).millivolts, at_high = evaluate(type, high).millivolts;
    if (!(millivolts >= at_low - table_rounding_mv && millivolts <= at_high + table_rounding_mv))
        return std::nullopt;
    if (millivolts <= at_low) return low;
    if (millivolts >= at_high) return high;
    // Newton inside a shrinking bracket: the function rises all the way, but is nearly flat at its cold end.
    double t = low + (high - low) * (millivolts - at_low) / (at_high - at_low);
    for (int i = 0; i < 60 && high - low > 1e-9; ++i) {
        auto const [value, slope] = evaluate(type, t);
        (value < millivolts ? low : high) = t;
        double next = t - (value - millivolts) / slope;
        if (!(next > low && next < high)) next = (low + high) / 2;
        if (std::abs(next - t) < 1e-9) return next;
        t = next;
    }
    return t;
}

std::optional<double> compensate(ThermocoupleType type, double millivolts, double cold_junction) {
    auto const terminals = emf_mv(type, cold_junction);
    if (!terminals) return std::nullopt;
    return celsius(type, millivolts + *terminals);
}

}  // namespace ingle
