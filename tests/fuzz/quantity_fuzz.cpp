// links: config
#include <cmath>
#include <cstdlib>

#include "config/quantity.hpp"

extern "C" int LLVMFuzzerTestOneInput(unsigned char const* data, std::size_t size) {
    std::string_view const text(reinterpret_cast<char const*>(data), size);
    auto const t = ingle::parse_temperature(text);
    if (auto const* value = std::get_if<ingle::Temperature>(&t); value && !std::isfinite(value->celsius))
        std::abort();
    auto const d = ingle::parse_duration(text);
    if (auto const* value = std::get_if<ingle::Duration>(&d); value && ingle::show(*value).empty())
        std::abort();
    return 0;
}
