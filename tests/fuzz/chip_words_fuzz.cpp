// links: drivers_thermocouple
// Any bits on the wire: a finite value inside the type's range, or a fault with a reason. Nothing else.
#include <cmath>
#include <cstdint>
#include <cstdlib>

#include "drivers/thermocouple/chip_words.hpp"

namespace {

void demand(ingle::Reading const& reading) {
    if (reading.ok() ? !std::isfinite(reading.celsius()) : reading.fault().reason.empty()) std::abort();
    if (reading.cold_junction && !std::isfinite(*reading.cold_junction)) std::abort();
}

}  // namespace

extern "C" int LLVMFuzzerTestOneInput(std::uint8_t const* data, std::size_t size) {
    if (size >= 5) {
        auto const word = static_cast<std::uint32_t>(data[0]) << 24 |
                          static_cast<std::uint32_t>(data[1]) << 16 |
                          static_cast<std::uint32_t>(data[2]) << 8 | data[3];
        auto const type = static_cast<ingle::ThermocoupleType>(data[4] % 8);
        auto const reading = ingle::decode_max31855(word, type, ingle::Instant{});
        demand(reading);
        if (reading.ok() && (reading.celsius() < -270 || reading.celsius() > 1820 || (word & 0x1000F)))
            std::abort();
        demand(ingle::decode_max6675(static_cast<std::uint16_t>(word), {}));
    }
    demand(ingle::decode_max31856({data, size}, {}));
    return 0;
}
