// One value as instruments write it in text: a number with or without its unit, or the word for "no reading".
// Used by every source that sends text (serial lines, brokers). Pure; any thread; independent of the locale.
#pragma once

#include <optional>
#include <string>
#include <string_view>
#include <variant>

#include "drivers/reading/fault.hpp"

namespace ingle {

enum class TextUnit { celsius, fahrenheit, kelvin };

struct TextNumber {
    double number = 0;             // as written, always finite
    std::optional<TextUnit> unit;  // as written beside it
};
using TextValue = std::variant<TextNumber, Fault>;

// What a comma between digits means. careful: where it could be a decimal comma, nothing is believed.
enum class Comma { careful, separator, decimal };
std::optional<Comma> comma_from(std::string_view word);  // "", "separator", "decimal"

// "88.5", "-0.5", "1e3", "190.2F", "74.25 °C" (UTF-8 or Latin-1), "nan", "open", "--.-", "Unable to read",
// "". Numbers that begin or end at the point (".25", "74.") are what is left of a cut line: garbled.
TextValue parse_text_value(std::string_view text, Comma comma = Comma::careful);
// A word that sources use for "no reading"; empty text is none.
std::optional<Fault> fault_word(std::string_view text);

std::optional<TextUnit> text_unit_from(std::string_view word);  // "degC", "degF", "°C", "°F", "C", "F", "K"

// In degC, or why not: no unit known, the two units disagree, or no temperature at all (below absolute zero,
// above 1820 degC, the hottest of the standard thermocouples). `raw` is quoted in the reason.
std::variant<double, Fault> to_celsius(TextValue const& value, std::optional<TextUnit> configured,
                                       std::string_view raw);

std::string_view trim(std::string_view text);  // blanks and tabs
std::string bytes_in_quotes(
    std::string_view text);  // in quotes, unprintable bytes as \xNN, at most 60 bytes of it

}  // namespace ingle
