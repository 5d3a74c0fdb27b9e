#include "drivers/skeleton/decode.hpp"

#include <charconv>
#include <cmath>

namespace ingle {

std::variant<double, Fault> decode_skeleton(std::string_view text) {
    while (!text.empty() && (text.back() == '\n' || text.back() == '\r' || text.back() == ' '))
        text.remove_suffix(1);
    if (text.empty()) return Fault{FaultKind::no_reply, "no-reply: the file is empty"};

    // from_chars, because it does not depend on the locale as strtod and streams do.
    double celsius = 0;
    auto const [end, error] = std::from_chars(text.data(), text.data() + text.size(), celsius);
    if (error != std::errc() || end != text.data() + text.size() || !std::isfinite(celsius))
        return Fault{FaultKind::garbled, "garbled: the file does not hold one number"};
    if (celsius < -273.15) return Fault{FaultKind::out_of_range, "out-of-range: colder than anything can be"};
    return celsius;
}

}  // namespace ingle
