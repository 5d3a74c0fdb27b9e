#include "config/device.hpp"

#include <cstdint>
#include <variant>

namespace ingle {

std::string device_of(ProbeSettings const& probe) {
    std::string text;
    for (auto const& [key, free] : probe.options) {
        if (!text.empty()) text += ' ';
        text += key + '=';
        if (auto const* word = std::get_if<std::string>(&free.value)) text += *word;
        if (auto const* whole = std::get_if<std::int64_t>(&free.value)) text += std::to_string(*whole);
    }
    return text;
}

}  // namespace ingle
