// links: config
#include <cstdlib>

#include "config/load.hpp"

extern "C" int LLVMFuzzerTestOneInput(unsigned char const* data, std::size_t size) {
    auto const loaded = ingle::parse_kitchen({reinterpret_cast<char const*>(data), size}, "fuzz.toml");
    for (auto const& vessel : loaded.settings.vessels)
        if (loaded.errors.empty() && vessel.band && !(vessel.band->low < vessel.band->high)) std::abort();
    return 0;
}
