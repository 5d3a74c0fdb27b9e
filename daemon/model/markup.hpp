// Text within HTML, or within the markup of a desktop notification: no tag, no entity. Pure.
#pragma once

#include <string>
#include <string_view>

namespace ingle {

inline std::string escaped(std::string_view text) {
    std::string out;
    for (char const c : text) {
        if (c == '&')
            out += "&amp;";
        else if (c == '<')
            out += "&lt;";
        else if (c == '>')
            out += "&gt;";
        else
            out += c;
    }
    return out;
}

}  // namespace ingle
