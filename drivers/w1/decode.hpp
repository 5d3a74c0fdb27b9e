// What the kernel's w1_slave file says about a 1-Wire thermometer, and which of it to believe. Pure; any
// thread. Layout: w1_slave_show of the Linux driver w1_therm; limits: DS18B20 data sheet, table 1.
#pragma once

#include <array>
#include <cstdint>
#include <optional>
#include <span>
#include <string_view>
#include <variant>

#include "drivers/reading/reading.hpp"

namespace ingle {

// CRC-8 of 1-Wire: x^8+x^5+x^4+1, least significant bit first, from 0.
std::uint8_t w1_crc8(std::span<std::uint8_t const> bytes);

struct W1Sample {
    double celsius = 0;              // exact, in sixteenths
    bool could_be_power_on = false;  // 85.000 with the byte that a sensor has before its first conversion
};

// `family`: the two hexadecimal digits before the '-' of the id. Whatever the kernel's verdict, the checksum
// is computed again, both lines must be of the same bytes, and the number must be what the bytes say.
std::variant<W1Sample, Fault> decode_w1_slave(std::string_view text, std::string_view family);

// 85.000 is believed only next to a good value of the last ten minutes, at most 5 K away.
class PowerOnRule {
public:
    // The reading, or the fault power_on_value.
    Reading judge(Instant at, W1Sample sample);

private:
    std::optional<double> last_good_;
    Instant last_at_{};
};

bool is_w1_id(std::string_view id);  // "28-000000000001", of a family with a thermometer

}  // namespace ingle
