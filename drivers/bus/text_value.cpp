#include "drivers/bus/text_value.hpp"

#include <algorithm>
#include <array>
#include <charconv>
#include <cmath>
#include <utility>

namespace ingle {
namespace {

std::string lower(std::string_view text) {
    std::string out(text);
    for (char& c : out)
        if (c >= 'A' && c <= 'Z') c = static_cast<char>(c - 'A' + 'a');
    return out;
}

bool is_digit(char c) {
    return c >= '0' && c <= '9';
}

struct Word {
    std::string_view text;
    FaultKind kind;
    std::string_view meaning;
};

constexpr std::string_view no_value = "the source says that it has no value";
constexpr std::array<Word, 31> words{{
    {"open", FaultKind::open, "the probe is broken or unplugged"},
    {"oc", FaultKind::open, "the probe is broken or unplugged"},
    {"unplugged", FaultKind::open, "the probe is unplugged"},
    {"disconnected", FaultKind::open, "the probe is unplugged"},
    {"short", FaultKind::short_circuit, "the probe is shorted"},
    {"shorted", FaultKind::short_circuit, "the probe is shorted"},
    {"scg", FaultKind::short_to_ground, "the probe touches ground"},
    {"scv", FaultKind::short_to_supply, "the probe touches the supply"},
    {"short-to-ground", FaultKind::short_to_ground, "the probe touches ground"},
    {"short-to-supply", FaultKind::short_to_supply, "the probe touches the supply"},
    {"garbled", FaultKind::garbled, "the source could not read its probe"},
    {"ol", FaultKind::out_of_range, "over the range of the instrument"},
    {"over", FaultKind::out_of_range, "over the range of the instrument"},
    {"under", FaultKind::out_of_range, "under the range of the instrument"},
    {"inf", FaultKind::out_of_range, "the source sends no finite number"},
    {"infinity", FaultKind::out_of_range, "the source sends no finite number"},
    {"nan", FaultKind::unspecified, no_value},
    {"null", FaultKind::unspecified, no_value},
    {"none", FaultKind::unspecified, no_value},
    {"na", FaultKind::unspecified, no_value},
    {"n/a", FaultKind::unspecified, no_value},
    {"--", FaultKind::unspecified, no_value},
    {"---", FaultKind::unspecified, no_value},
    {"--.-", FaultKind::unspecified, no_value},
    {"---.-", FaultKind::unspecified, no_value},
    {"-", FaultKind::unspecified, no_value},
    {"err", FaultKind::unspecified, "the source reports an error"},
    {"error", FaultKind::unspecified, "the source reports an error"},
    {"fail", FaultKind::unspecified, "the source reports an error"},
    {"failed", FaultKind::unspecified, "the source reports an error"},
    {"fault", FaultKind::unspecified, "the source reports a fault"},
}};

Fault garbled(std::string_view text, std::string_view why) {
    return {FaultKind::garbled, bytes_in_quotes(text) + ": " + std::string(why)};
}

// Length of [sign] digits [mark digits] [e [sign] digits] at the start of `text`; 0 where that is not there.
std::size_t number_length(std::string_view text, char mark) {
    std::size_t i = 0;
    auto const digits = [&] {
        auto const from = i;
        while (i < text.size() && is_digit(text[i])) ++i;
        return i - from;
    };
    if (i < text.size() && (text[i] == '+' || text[i] == '-')) ++i;
    if (digits() == 0) return 0;
    if (i < text.size() && text[i] == mark) {
        ++i;
        if (digits() == 0) return 0;
    }
    if (i + 1 < text.size() && (text[i] == 'e' || text[i] == 'E')) {
        auto const before = i++;
        if (i < text.size() && (text[i] == '+' || text[i] == '-')) ++i;
        if (digits() == 0) i = before;
    }
    return i;
}

}  // namespace

std::string_view trim(std::string_view text) {
    auto const first = text.find_first_not_of(" \t");
    if (first == std::string_view::npos) return {};
    return text.substr(first, text.find_last_not_of(" \t") - first + 1);
}

std::string bytes_in_quotes(std::string_view text) {
    constexpr std::size_t most = 60;
    constexpr char hex[] = "0123456789ABCDEF";
    std::string out = "\"";
    for (char const c : text.substr(0, most)) {
        auto const byte = static_cast<unsigned char>(c);
        if (byte >= 0x20 && byte < 0x7F) {
            out += c;
        } else {
            out += "\\x";
            out += hex[byte >> 4];
            out += hex[byte & 15];
        }
    }
    if (text.size() > most) out += "...";
    return out + "\"";
}

std::optional<Comma> comma_from(std::string_view word) {
    if (word.empty() || word == "careful") return Comma::careful;
    if (word == "separator") return Comma::separator;
    if (word == "decimal") return Comma::decimal;
    return std::nullopt;
}

std::optional<TextUnit> text_unit_from(std::string_view word) {
    auto name = lower(trim(word));
    for (std::string_view const sign : {"\xC2\xB0", "\xC2\xBA", "\xB0", "\xBA", "degrees", "deg"})
        if (name.starts_with(sign)) {
            name = trim(std::string_view(name).substr(sign.size()));
            break;
        }
    if (name == "c" || name == "celsius") return TextUnit::celsius;
    if (name == "f" || name == "fahrenheit") return TextUnit::fahrenheit;
    if (name == "k" || name == "kelvin") return TextUnit::kelvin;
    return std::nullopt;
}

std::optional<Fault> fault_word(std::string_view text) {
    auto name = lower(trim(text));
    if (name.size() > 1 && (name[0] == '+' || name[0] == '-') && name[1] != '-') name.erase(0, 1);
    auto const found = std::ranges::find(words, std::string_view(name), &Word::text);
    if (found == words.end()) return std::nullopt;
    return Fault{found->kind, bytes_in_quotes(trim(text)) + ": " + std::string(found->meaning)};
}

TextValue parse_text_value(std::string_view whole, Comma comma) {
    auto const text = trim(whole);
    if (text.empty()) return Fault{FaultKind::garbled, "the source sends an empty value"};
    if (auto fault = fault_word(text)) return *std::move(fault);
    bool const starts_like_number =
        is_digit(text[0]) || ((text[0] == '+' || text[0] == '-' || text[0] == '.' || text[0] == ',') &&
                              text.size() > 1 && (is_digit(text[1]) || text[1] == '.'));
    if (!starts_like_number)
        return Fault{FaultKind::unspecified,
                     "the source says " + bytes_in_quotes(text) + " where a number belongs"};
    auto const length = number_length(text, comma == Comma::decimal ? ',' : '.');
    if (length == 0) return garbled(text, "the number is cut short");
    auto const rest = text.substr(length);
    if (comma != Comma::decimal && rest.starts_with(','))
        return garbled(text, "a decimal comma or two values in one");
    std::string digits(text.substr(text[0] == '+' ? 1 : 0, length - (text[0] == '+' ? 1 : 0)));
    if (comma == Comma::decimal) std::ranges::replace(digits, ',', '.');
    double number = 0;
    auto const [end, error] = std::from_chars(digits.data(), digits.data() + digits.size(), number);
    if (error == std::errc::result_out_of_range || !std::isfinite(number))
        return Fault{FaultKind::out_of_range, bytes_in_quotes(text) + " is no temperature"};
    if (error != std::errc() || end != digits.data() + digits.size()) return garbled(text, "not a number");
    if (trim(rest).empty()) return TextNumber{number, {}};
    auto const unit = text_unit_from(rest);
    if (!unit) return garbled(text, "what follows the number is no unit of temperature");
    return TextNumber{number, unit};
}

std::variant<double, Fault> to_celsius(TextValue const& value, std::optional<TextUnit> configured,
                                       std::string_view raw) {
    if (auto const* fault = std::get_if<Fault>(&value)) return *fault;
    auto const& [number, written] = std::get<TextNumber>(value);
    if (!written && !configured)
        return garbled(raw, "no unit: neither the source nor the kitchen file (unit = ...) says which");
    if (written && configured && *written != *configured)
        return garbled(raw, "the source's own unit disagrees with the kitchen file's");
    auto const unit = written ? *written : *configured;
    double celsius = number;
    if (unit == TextUnit::fahrenheit) celsius = (number - 32.0) * 5.0 / 9.0;
    if (unit == TextUnit::kelvin) celsius = number - 273.15;
    if (celsius < -273.15 || celsius > 1820.0)
        return Fault{FaultKind::out_of_range,
                     bytes_in_quotes(raw) + " is no temperature that a kitchen can have"};
    return celsius;
}

}  // namespace ingle
