#include "config/plain_text.hpp"

#include <algorithm>
#include <cstdint>

namespace ingle {
namespace {

// How long the UTF-8 character is that begins with this byte; 0: none does.
std::size_t announced(unsigned char first) {
    if (first < 0x80) return 1;
    if (first < 0xC2 || first > 0xF4) return 0;
    return first < 0xE0 ? 2 : first < 0xF0 ? 3 : 4;
}

bool continues(char c) {
    return (static_cast<unsigned char>(c) & 0xC0) == 0x80;
}

struct Character {
    std::size_t size = 1;
    bool plain = false;
};

bool turns_direction(std::uint32_t code) {
    return code == 0x061C || code == 0x200E || code == 0x200F || (code >= 0x202A && code <= 0x202E) ||
           (code >= 0x2066 && code <= 0x2069);
}

Character first_of(std::string_view text) {
    auto const first = static_cast<unsigned char>(text.front());
    auto const size = announced(first);
    if (size == 1) return {1, (first >= 0x20 && first != 0x7F) || first == '\n' || first == '\t'};
    if (size == 0 || size > text.size() || !std::ranges::all_of(text.substr(1, size - 1), continues))
        return {1, false};
    std::uint32_t code = first & (0xFFU >> (size + 1));
    for (auto const c : text.substr(1, size - 1)) code = code << 6U | (static_cast<unsigned char>(c) & 0x3FU);
    bool const overlong = (size == 3 && code < 0x800) || (size == 4 && code < 0x10000);
    bool const no_character = (code >= 0xD800 && code <= 0xDFFF) || code > 0x10FFFF;
    return {size, !overlong && !no_character && code >= 0xA0 && !turns_direction(code)};
}

}  // namespace

bool is_plain_text(std::string_view text) {
    while (!text.empty()) {
        auto const next = first_of(text);
        if (!next.plain) return false;
        text.remove_prefix(next.size);
    }
    return true;
}

std::string plain_text(std::string_view text) {
    std::string plain;
    plain.reserve(text.size());
    while (!text.empty()) {
        auto const next = first_of(text);
        plain += next.plain ? text.substr(0, next.size) : "?";
        text.remove_prefix(next.size);
    }
    return plain;
}

std::size_t whole_characters(std::string_view text) {
    for (std::size_t back = 1; back <= std::min<std::size_t>(3, text.size()); ++back) {
        auto const at = text.size() - back;
        if (continues(text[at])) continue;
        return announced(static_cast<unsigned char>(text[at])) > back ? at : text.size();
    }
    return text.size();
}

}  // namespace ingle
