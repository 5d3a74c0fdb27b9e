// Physical quantities as types, so that a temperature and a difference of temperatures cannot be mixed up.
// SI inside: degC, K, s, m, Pa, kg. Parsing and printing are locale-independent. Pure; any thread.
#pragma once

#include <compare>
#include <string>
#include <string_view>
#include <variant>

namespace ingle {

struct TemperatureDifference {
    double kelvin = 0;
    friend auto operator<=>(TemperatureDifference, TemperatureDifference) = default;
};

struct Temperature {
    double celsius = 0;
    friend auto operator<=>(Temperature, Temperature) = default;
    friend TemperatureDifference operator-(Temperature a, Temperature b) { return {a.celsius - b.celsius}; }
    friend Temperature operator+(Temperature a, TemperatureDifference d) { return {a.celsius + d.kelvin}; }
    friend Temperature operator-(Temperature a, TemperatureDifference d) { return {a.celsius - d.kelvin}; }
};

struct Duration {
    double seconds = 0;
    friend auto operator<=>(Duration, Duration) = default;
};
struct Length {
    double metres = 0;
    friend auto operator<=>(Length, Length) = default;
};
struct Pressure {
    double pascals = 0;
    friend auto operator<=>(Pressure, Pressure) = default;
};
struct Mass {
    double kilograms = 0;
    friend auto operator<=>(Mass, Mass) = default;
};
struct Fraction {
    double value = 0;
    friend auto operator<=>(Fraction, Fraction) = default;
};  // 1 % = 0.01

enum class TemperatureUnit { celsius, fahrenheit };

struct QuantityError {
    std::string wrong, right;
};  // "has no unit", "write \"225 degF\" or \"225 degC\""
template <class Q>
using Parsed = std::variant<Q, QuantityError>;

// "185 degF", "85 degC", "85 °C", "85C": a bare number is an error that shows both readings.
Parsed<Temperature> parse_temperature(std::string_view text);
// "1 degF" is 5/9 K: converts without the 32. Also "1 K".
Parsed<TemperatureDifference> parse_temperature_difference(std::string_view text);
Parsed<Duration> parse_duration(std::string_view text);     // "2 h", "90 s", "1 h 30 min", "3 days", "500 ms"
Parsed<Length> parse_length(std::string_view text);         // "9 cm", "240 m", "3 in", "500 ft", "12 mm"
Parsed<Pressure> parse_pressure(std::string_view text);     // "985 hPa", "98500 Pa", "29.1 inHg", "739 mmHg"
Parsed<Mass> parse_mass(std::string_view text);             // "1.8 kg", "500 g", "4 lb", "12 oz"
Parsed<Fraction> parse_fraction(std::string_view text);     // "1 %"
Parsed<TemperatureUnit> parse_unit(std::string_view text);  // "degF", "degC"

// A finite number in the "C" notation and nothing else ("58,5", "nan", "0x1" and "1.2.3" are refused).
bool parse_number(std::string_view text, double& value);

// For people: "185.0 degF", "1.0 degF" (difference), "2 h 05 min", in the chosen unit.
std::string show(Temperature t, TemperatureUnit unit, int decimals = 1);
std::string show(TemperatureDifference d, TemperatureUnit unit, int decimals = 1);
std::string show(Duration d);

constexpr double to_unit(Temperature t, TemperatureUnit u) {
    return u == TemperatureUnit::celsius ? t.celsius : t.celsius * 9.0 / 5.0 + 32.0;
}
constexpr double to_unit(TemperatureDifference d, TemperatureUnit u) {
    return u == TemperatureUnit::celsius ? d.kelvin : d.kelvin * 9.0 / 5.0;
}
constexpr std::string_view unit_name(TemperatureUnit u) {
    return u == TemperatureUnit::celsius ? "degC" : "degF";
}

}  // namespace ingle
