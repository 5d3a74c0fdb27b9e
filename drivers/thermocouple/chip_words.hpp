// What three thermocouple chips put on the wire, as readings. Pure functions of bits; any thread.
// A reading keeps the raw word and the cold junction, with a fault too, so that both are on record.
// Bit layouts: data sheets MAX31855 (19-5793), MAX6675 (19-2235); MAX31856 as the Linux kernel reads it.
#pragma once

#include <cstdint>
#include <optional>
#include <span>

#include "drivers/reading/reading.hpp"
#include "drivers/thermocouple/its90.hpp"

namespace ingle {

// MAX31855, 32 bits. The chip assumes a straight line of one slope per type; this undoes it and converts with
// ITS-90. Faults: each bit is named in the reason, `kind` is the first of supply, ground, open; all ones or
// all zeros (0 degC at both ends to the last bit) is no chip; a reserved bit or a cause without the fault bit
// is garbled. The chip is not made for type B. Without a type the value is the chip's own, line and all.
Reading decode_max31855(std::uint32_t word, std::optional<ThermocoupleType> type, Instant at);

// The chip's slope in mV/K for a type (data sheet table 1); nothing for B.
std::optional<double> max31855_slope(ThermocoupleType type);

// The straight line undone: true degC from the chip's degC; nothing if outside the type's range.
std::optional<double> straighten_max31855(ThermocoupleType type, double chip_celsius, double cold_junction);

// MAX6675, 16 bits, type K. It does not tell its cold junction, so its straight line stays: within 0.5 K
// below 150 degC. It shows 0 for everything below 0 degC, and for a data line stuck low: see
// max6675_doubtful.
Reading decode_max6675(std::uint16_t word, Instant at);
bool max6675_doubtful(std::uint16_t word);  // all zeros: 0 degC, colder, reversed, or no chip at all

// MAX31856, registers 0Ah..0Fh (cold junction, temperature, fault status: 6 bytes) or 00h..0Fh (16 bytes);
// any other length is garbled. The chip linearises by itself.
Reading decode_max31856(std::span<std::uint8_t const> registers, Instant at);
double max31856_celsius(std::uint32_t ltcb);       // registers 0Ch..0Eh as a 24-bit number
double max31856_cold_junction(std::uint16_t cjt);  // registers 0Ah..0Bh as a 16-bit number

}  // namespace ingle
