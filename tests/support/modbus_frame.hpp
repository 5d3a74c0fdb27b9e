// Frames of a Modbus serial line, for the tests' units.
#pragma once

#include <string>

namespace ingle::test {

// Checksum of the Modbus serial line specification (polynomial A001, low byte first).
inline std::string with_crc(std::string frame) {
    unsigned crc = 0xFFFF;
    for (char const c : frame) {
        crc ^= static_cast<unsigned char>(c);
        for (int bit = 0; bit < 8; ++bit) crc = crc & 1 ? (crc >> 1) ^ 0xA001U : crc >> 1;
    }
    frame += static_cast<char>(crc & 0xFF);
    frame += static_cast<char>(crc >> 8);
    return frame;
}

}  // namespace ingle::test
