// links: drivers_w1
#include <cstdlib>

#include "drivers/w1/decode.hpp"

using namespace ingle;

extern "C" int LLVMFuzzerTestOneInput(unsigned char const* data, std::size_t size) {
    std::string_view const text(reinterpret_cast<char const*>(data), size);
    for (auto const* family : {"28", "10"}) {
        auto const result = decode_w1_slave(text, family);
        if (auto const* sample = std::get_if<W1Sample>(&result))
            if (!(sample->celsius >= -55.0 && sample->celsius <= 125.0)) std::abort();
    }
    return 0;
}
