#include "config/quantity.hpp"

#include <algorithm>
#include <array>
#include <charconv>
#include <cmath>
#include <optional>
#include <span>
#include <utility>

#include "config/height.hpp"
#include "config/spoken_duration.hpp"
#include "config/typed_dashes.hpp"

namespace ingle {
namespace {

struct Unit {
    std::string_view name;
    double factor;
};
constexpr std::array duration_units{Unit{"ms", 0.001},   Unit{"s", 1},         Unit{"second", 1},
                                    Unit{"seconds", 1},  Unit{"min", 60},      Unit{"minute", 60},
                                    Unit{"minutes", 60}, Unit{"h", 3600},      Unit{"hour", 3600},
                                    Unit{"hours", 3600}, Unit{"d", 86400},     Unit{"day", 86400},
                                    Unit{"days", 86400}, Unit{"week", 604800}, Unit{"weeks", 604800}};
// As people type them.
struct Spoken {
    std::string_view typed, meant;
};
constexpr std::array spoken_units{Spoken{"inch", "in"},     Spoken{"inches", "in"},   Spoken{"\"", "in"},
                                  Spoken{"foot", "ft"},     Spoken{"feet", "ft"},     Spoken{"'", "ft"},
                                  Spoken{"lbs", "lb"},      Spoken{"pound", "lb"},    Spoken{"pounds", "lb"},
                                  Spoken{"ounce", "oz"},    Spoken{"ounces", "oz"},   Spoken{"gram", "g"},
                                  Spoken{"grams", "g"},     Spoken{"kilo", "kg"},     Spoken{"kilos", "kg"},
                                  Spoken{"kilogram", "kg"}, Spoken{"kilograms", "kg"}};
// Inch, foot, pound and ounce are exact by definition (NIST SP 811, appendix B), as are the columns of
// mercury.
constexpr std::array length_units{Unit{"mm", 0.001}, Unit{"cm", 0.01},   Unit{"m", 1},
                                  Unit{"km", 1000},  Unit{"in", 0.0254}, Unit{"ft", 0.3048}};
constexpr std::array pressure_units{Unit{"Pa", 1},     Unit{"hPa", 100},       Unit{"kPa", 1000},
                                    Unit{"mbar", 100}, Unit{"mmHg", 133.3224}, Unit{"inHg", 3386.389}};
constexpr std::array mass_units{Unit{"g", 0.001}, Unit{"kg", 1}, Unit{"lb", 0.45359237},
                                Unit{"oz", 0.028349523125}};
constexpr std::array fraction_units{Unit{"%", 0.01}};

constexpr double absolute_zero = -273.15;

bool is_space(char c) {
    return c == ' ' || c == '\t';
}

void skip_spaces(std::string_view& text) {
    while (!text.empty() && is_space(text.front())) text.remove_prefix(1);
}

std::string_view trimmed(std::string_view text) {
    skip_spaces(text);
    while (!text.empty() && is_space(text.back())) text.remove_suffix(1);
    return text;
}

// A finite number at the front of `text`, which is then shortened by it.
std::optional<double> take_number(std::string_view& text) {
    auto digits = text;
    if (digits.starts_with('+')) {
        digits.remove_prefix(1);
        if (digits.starts_with('-')) return std::nullopt;
    }
    bool negative = false;
    for (auto const dash : typed_dashes)
        if (digits.starts_with(dash) && !negative) {
            digits.remove_prefix(dash.size());
            if (digits.starts_with('-')) return std::nullopt;
            negative = true;
        }
    double value = 0;
    auto const [end, error] = std::from_chars(digits.data(), digits.data() + digits.size(), value);
    if (error != std::errc{} || !std::isfinite(value)) return std::nullopt;
    text.remove_prefix(static_cast<std::size_t>(end - text.data()));
    return negative ? -value : value;
}

// A count as cooks write it: "2", "1/2", "1 1/2"; taken from `text`.
std::optional<double> take_amount(std::string_view& text) {
    auto const over = [](std::string_view& rest) -> std::optional<double> {
        if (rest.size() < 2 || rest[0] != '/' || rest[1] < '1' || rest[1] > '9') return std::nullopt;
        rest.remove_prefix(1);
        return take_number(rest);
    };
    auto value = take_number(text);
    if (!value) return std::nullopt;
    if (auto const below = over(text)) return *value / *below;
    auto rest = text;
    skip_spaces(rest);
    if (*value < 0 || rest.empty() || rest.front() < '0' || rest.front() > '9') return value;
    auto const above = take_number(rest);
    auto const below = above ? over(rest) : std::nullopt;
    if (!below) return value;
    text = rest;
    return *value + *above / *below;
}

std::string_view take_word(std::string_view& text) {
    std::size_t end = 0;
    while (end < text.size() && !is_space(text[end]) && (text[end] < '0' || text[end] > '9') &&
           text[end] != '+' && text[end] != '-')
        ++end;
    auto const word = text.substr(0, end);
    text.remove_prefix(end);
    return word;
}

std::string in_quotes(std::string_view text) {
    return '"' + std::string(text) + '"';
}

// At most `decimals` places, without the zeros that say nothing.
std::string short_number(double value, int decimals) {
    char buffer[64];
    auto const [end, error] =
        std::to_chars(buffer, buffer + sizeof buffer, value, std::chars_format::fixed, decimals);
    if (error != std::errc{}) return {buffer, std::to_chars(buffer, buffer + sizeof buffer, value).ptr};
    std::string text(buffer, end);
    if (decimals > 0) {
        text.erase(text.find_last_not_of('0') + 1);
        if (text.ends_with('.')) text.pop_back();
    }
    return text == "-0" ? "0" : text;
}

std::string fixed_number(double value, int decimals) {
    auto const places = static_cast<std::size_t>(decimals < 0 ? 0 : decimals);
    auto text = short_number(value, static_cast<int>(places));
    if (places == 0 || text.find('e') != std::string::npos) return text;
    auto const point = text.find('.');
    if (point == std::string::npos) return text + '.' + std::string(places, '0');
    return text + std::string(places - (text.size() - point - 1), '0');
}

// What is wrong with a text that does not even begin with a number.
QuantityError no_number(std::string_view text, std::string_view example) {
    if (text.empty()) return {"is empty", "write " + in_quotes(example)};
    return {in_quotes(text) + " does not begin with a number", "write " + in_quotes(example)};
}

QuantityError comma(std::string_view text) {
    std::string better(text);
    better[better.find(',')] = '.';
    return {in_quotes(text) + " has a comma in the number", "write " + in_quotes(better)};
}

std::string names_of(std::span<Unit const> units) {
    std::string text;
    for (auto const& unit : units) text += (text.empty() ? "" : ", ") + std::string(unit.name);
    return text;
}

// One or, for durations, several "number unit" pairs; the sum in SI.
Parsed<double> parse_units(std::string_view text, std::span<Unit const> units, std::string_view example,
                           bool several) {
    auto rest = trimmed(text);
    if (rest.empty()) return no_number(rest, example);
    double sum = 0;
    for (bool first = true; first || (several && !rest.empty()); first = false) {
        auto const value = take_amount(rest);
        if (!value) return no_number(text, example);
        if (rest.starts_with(',')) return comma(text);
        skip_spaces(rest);
        auto word = take_word(rest);
        if (auto const* spoken = std::ranges::find(spoken_units, word, &Spoken::typed);
            spoken != spoken_units.end())
            word = spoken->meant;
        skip_spaces(rest);
        auto const* unit = std::find_if(units.data(), units.data() + units.size(),
                                        [&](Unit const& u) { return u.name == word; });
        if (unit == units.data() + units.size()) {
            if (word.empty())
                return QuantityError{in_quotes(text) + " has no unit",
                                     "add one of " + names_of(units) + ", for example " + in_quotes(example)};
            return QuantityError{in_quotes(word) + " is no unit here",
                                 "one of " + names_of(units) + ", for example " + in_quotes(example)};
        }
        if (several && (*value < 0 || (!first && sum < 0)))
            return QuantityError{in_quotes(text) + " is negative", "write " + in_quotes(example)};
        sum += *value * unit->factor;
    }
    if (!rest.empty())
        return QuantityError{in_quotes(text) + " goes on after the unit", "write " + in_quotes(example)};
    if (!std::isfinite(sum))
        return QuantityError{in_quotes(text) + " is too large", "write " + in_quotes(example)};
    return sum;
}

template <class Q>
Parsed<Q> as(Parsed<double> parsed) {
    if (auto* error = std::get_if<QuantityError>(&parsed)) return std::move(*error);
    return Q{std::get<double>(parsed)};
}

template <class Q>
Parsed<Q> positive(Parsed<double> parsed, std::string_view text, std::string_view example) {
    if (auto const* value = std::get_if<double>(&parsed); value && *value <= 0)
        return QuantityError{in_quotes(text) + " is not above zero", "write " + in_quotes(example)};
    return as<Q>(std::move(parsed));
}

enum class TemperatureWord { none, celsius, fahrenheit, kelvin, other };

// "degF", "deg F", "°F", "F" in either case. The sign U+00BA looks like a degree sign and is typed for it.
TemperatureWord temperature_word(std::string_view text) {
    text = trimmed(text);
    if (text.empty()) return TemperatureWord::none;
    for (std::string_view const prefix : {"\xC2\xB0", "\xC2\xBA", "degrees", "deg"})
        if (text.starts_with(prefix)) {
            text = trimmed(text.substr(prefix.size()));
            break;
        }
    if (text == "C" || text == "c" || text == "Celsius") return TemperatureWord::celsius;
    if (text == "F" || text == "f" || text == "Fahrenheit") return TemperatureWord::fahrenheit;
    if (text == "K") return TemperatureWord::kelvin;
    return TemperatureWord::other;
}

struct NumberAndWord {
    double value;
    TemperatureWord word;
};

Parsed<NumberAndWord> split_temperature(std::string_view text, std::string_view example) {
    auto rest = trimmed(text);
    auto const value = take_number(rest);
    if (!value) return no_number(trimmed(text), example);
    if (rest.starts_with(',')) return comma(trimmed(text));
    auto const word = temperature_word(rest);
    if (word == TemperatureWord::other)
        return QuantityError{in_quotes(trimmed(rest)) + " is no unit of temperature",
                             "degF or degC, for example " + in_quotes(example)};
    return NumberAndWord{*value, word};
}

}  // namespace

bool parse_number(std::string_view text, double& value) {
    auto const taken = take_number(text);
    if (!taken || !text.empty()) return false;
    value = *taken;
    return true;
}

Parsed<Temperature> parse_temperature(std::string_view text) {
    auto const parsed = split_temperature(text, "185 degF");
    if (auto const* error = std::get_if<QuantityError>(&parsed)) return *error;
    auto const [value, word] = std::get<NumberAndWord>(parsed);
    Temperature const as_fahrenheit{(value - 32.0) * 5.0 / 9.0};
    if (word == TemperatureWord::none) {
        auto const number = short_number(value, 6);
        auto const in_f = to_unit(Temperature{value}, TemperatureUnit::fahrenheit);
        return QuantityError{in_quotes(number) + " has no unit",
                             "write " + in_quotes(number + " degF") + " (" +
                                 short_number(as_fahrenheit.celsius, 1) + " degC) or " +
                                 in_quotes(number + " degC") + " (" + short_number(in_f, 1) + " degF)"};
    }
    if (word == TemperatureWord::kelvin)
        return QuantityError{in_quotes(trimmed(text)) + " is in kelvin, which is for differences only",
                             "write " + in_quotes(short_number(value + absolute_zero, 2) + " degC")};
    Temperature const result{word == TemperatureWord::celsius ? value : as_fahrenheit.celsius};
    if (result.celsius < absolute_zero)
        return QuantityError{in_quotes(trimmed(text)) + " is below absolute zero",
                             "a temperature that exists"};
    return result;
}

Parsed<TemperatureDifference> parse_temperature_difference(std::string_view text) {
    auto const parsed = split_temperature(text, "1 degF");
    if (auto const* error = std::get_if<QuantityError>(&parsed)) return *error;
    auto const [value, word] = std::get<NumberAndWord>(parsed);
    if (word == TemperatureWord::none) {
        auto const number = short_number(value, 6);
        return QuantityError{in_quotes(number) + " has no unit",
                             "write " + in_quotes(number + " degF") + " (" +
                                 short_number(value * 5.0 / 9.0, 2) + " degC) or " +
                                 in_quotes(number + " degC") + " (" + short_number(value * 9.0 / 5.0, 2) +
                                 " degF)"};
    }
    return TemperatureDifference{word == TemperatureWord::fahrenheit ? value * 5.0 / 9.0 : value};
}

Parsed<Duration> parse_duration(std::string_view text) {
    return as<Duration>(parse_units(plain_duration(trimmed(text)), duration_units, "1 h 30 min", true));
}

Parsed<Length> parse_length(std::string_view text) {
    return as<Length>(parse_units(text, length_units, "9 cm", false));
}

Parsed<Length> parse_height(std::string_view text) {
    return as<Length>(parse_units(text, length_units, "240 m", false));
}

Parsed<Pressure> parse_pressure(std::string_view text) {
    return positive<Pressure>(parse_units(text, pressure_units, "985 hPa", false), text, "985 hPa");
}

Parsed<Mass> parse_mass(std::string_view text) {
    return positive<Mass>(parse_units(text, mass_units, "1.8 kg", true), text, "1.8 kg");
}

Parsed<Fraction> parse_fraction(std::string_view text) {
    return as<Fraction>(parse_units(text, fraction_units, "1 %", false));
}

Parsed<TemperatureUnit> parse_unit(std::string_view text) {
    switch (temperature_word(text)) {
        case TemperatureWord::celsius:
            return TemperatureUnit::celsius;
        case TemperatureWord::fahrenheit:
            return TemperatureUnit::fahrenheit;
        default:
            return QuantityError{in_quotes(text) + " is no unit of temperature", "\"degF\" or \"degC\""};
    }
}

std::string show(Temperature t, TemperatureUnit unit, int decimals) {
    return fixed_number(to_unit(t, unit), decimals) + ' ' + std::string(unit_name(unit));
}

std::string show(TemperatureDifference d, TemperatureUnit unit, int decimals) {
    return fixed_number(to_unit(d, unit), decimals) + ' ' + std::string(unit_name(unit));
}

std::string show(Duration d) {
    if (d.seconds < 0) return "-" + show(Duration{-d.seconds});
    if (!(d.seconds < 1e12)) return short_number(d.seconds, 0) + " s";
    if (d.seconds > 0 && d.seconds < 0.9995) return short_number(d.seconds * 1000, 0) + " ms";
    auto const two = [](long long n) { return (n < 10 ? "0" : "") + std::to_string(n); };
    // Rounded to the smaller of the two units before it is split, so that there is no "1 h 60 min".
    auto const secs = std::llround(d.seconds);
    if (secs < 60) return std::to_string(secs) + " s";
    if (secs < 600)
        return std::to_string(secs / 60) + " min" + (secs % 60 ? ' ' + two(secs % 60) + " s" : "");
    auto const mins = std::llround(d.seconds / 60);
    if (mins < 60) return std::to_string(mins) + " min";
    if (mins < 24 * 60)
        return std::to_string(mins / 60) + " h" + (mins % 60 ? ' ' + two(mins % 60) + " min" : "");
    auto const hours = std::llround(d.seconds / 3600);
    return std::to_string(hours / 24) + (hours / 24 == 1 ? " day" : " days") +
           (hours % 24 ? ' ' + two(hours % 24) + " h" : "");
}

}  // namespace ingle
