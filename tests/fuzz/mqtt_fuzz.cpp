// links: drivers_mqtt
#include <cstdlib>

#include "drivers/mqtt/decode.hpp"

using namespace ingle;

extern "C" int LLVMFuzzerTestOneInput(unsigned char const* data, std::size_t size) {
    if (size < 1) return 0;
    std::string_view const payload(reinterpret_cast<char const*>(data) + 1, size - 1);
    Clocks const now{Instant{}, WallTime(std::chrono::milliseconds(1795694400000))};
    auto const reading = decode_message(payload, (data[0] & 1) != 0,
                                        {(data[0] & 2) ? "t" : "", "time", TextUnit::celsius}, now);
    if (reading.ok() && !(reading.celsius() >= -273.15 && reading.celsius() <= 1820.0)) std::abort();
    return 0;
}
