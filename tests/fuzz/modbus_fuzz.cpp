// links: drivers_modbus
#include <cstdlib>

#include "drivers/modbus/decode.hpp"

using namespace ingle;

extern "C" int LLVMFuzzerTestOneInput(unsigned char const* data, std::size_t size) {
    if (size < 3) return 0;
    RegisterMeaning meaning{static_cast<RegisterFormat>(data[0] % 5),
                            static_cast<WordOrder>(data[1] % 4),
                            data[2] / 10.0,
                            TextUnit::celsius,
                            {32767, -32768}};
    std::vector<std::uint16_t> registers;
    for (std::size_t i = 3; i + 1 < size; i += 2)
        registers.push_back(static_cast<std::uint16_t>((data[i] << 8) | data[i + 1]));
    auto const result = decode_registers(registers, meaning);
    if (auto const* celsius = std::get_if<double>(&result))
        if (!(*celsius >= -273.15 && *celsius <= 1820.0)) std::abort();
    return 0;
}
