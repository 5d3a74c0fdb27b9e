// The little of JSON that the logbook writes. Locale-independent. Pure.
#pragma once

#include <charconv>
#include <string>
#include <string_view>

namespace ingle::logbook {

inline void append_number(std::string& out, double value) {
    char buffer[32];
    out.append(buffer, std::to_chars(buffer, buffer + sizeof buffer, value).ptr);
}

inline void append_quoted(std::string& out, std::string_view text) {
    constexpr char digits[] = "0123456789abcdef";
    out += '"';
    for (char const c : text) {
        auto const u = static_cast<unsigned char>(c);
        if (c == '"' || c == '\\')
            out += '\\', out += c;
        else if (u < 0x20)
            out += "\\u00", out += digits[u >> 4], out += digits[u & 15];
        else
            out += c;
    }
    out += '"';
}

}  // namespace ingle::logbook
