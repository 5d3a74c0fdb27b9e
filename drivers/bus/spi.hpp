// Reading chips over SPI: through GPIO lines with shared clock and data and a select per chip, or through the
// kernel's spidev. Opens and re-opens by itself. Device threads only.
#pragma once

#include <cstdint>
#include <memory>
#include <span>
#include <string>
#include <variant>
#include <vector>

#include "drivers/api/driver.hpp"
#include "drivers/bus/gpio_line.hpp"
#include "drivers/reading/fault.hpp"

namespace ingle {

// When the chip puts its bits on the line: before the rising edge (mode 0) or with it (mode 1). The clock
// rests low.
enum class SpiMode { mode0, mode1 };

struct SpiPins {
    OutPin& clock;
    InPin& data;
    OutPin* mosi;    // may be null: a chip that only talks
    OutPin& select;  // on = chosen
};

// As many bytes as `out` has, most significant bit first; what is sent goes to `mosi`, if there is one. Gives
// the chip back even when a pin throws.
std::vector<std::uint8_t> exchange_bits(SpiPins pins, SpiMode mode, std::span<std::uint8_t const> out);

struct SpiWiring {  // of one chip
    std::string chip, clock, data, mosi, select;
    std::string spi;  // a spidev path instead of the five above
};
// Throws std::runtime_error with a sentence where neither or both ways are given, or a line is missing.
SpiWiring spi_wiring(ProbeWiring const& probe, bool needs_mosi);

class SpiLines;  // of one clock: chips of different kinds, and so several of these buses, may hang on it

class SpiBus {
public:
    using Bytes = std::vector<std::uint8_t>;
    // `commons`: where the buses on the same lines meet; null where there is only this one. Throws
    // std::runtime_error where chips on one clock name different mosi lines.
    SpiBus(std::vector<SpiWiring> wiring, SpiMode mode, std::shared_ptr<Commons> const& commons);
    // Sends `out` to one chip and gives what came back meanwhile; a fault closes everything, the next call
    // opens anew.
    std::variant<Bytes, Fault> exchange(std::size_t chip, std::span<std::uint8_t const> out);

private:
    Bytes through_kernel(std::size_t chip, std::span<std::uint8_t const> out);
    std::vector<SpiWiring> wiring_;
    SpiMode mode_;
    std::shared_ptr<SpiLines> lines_;  // null: spidev
    std::vector<std::size_t> places_;  // of our chips on these lines
};

namespace spi_option {
inline constexpr OptionInfo chip{
    "chip", OptionKind::text, false, "", {}, 0, 0, "GPIO chip: its path or its label"};
inline constexpr OptionInfo clock{
    "clock", OptionKind::text, false, "", {}, 0, 0, "clock: offset or name of a line"};
inline constexpr OptionInfo data{"data", OptionKind::text, false, "", {}, 0, 0, "data from the chip: a line"};
inline constexpr OptionInfo mosi{"mosi", OptionKind::text, false, "", {}, 0, 0, "data to the chip: a line"};
inline constexpr OptionInfo select{
    "select", OptionKind::text, false, "", {}, 0, 0, "select of this chip: a line"};
inline constexpr OptionInfo spi{
    "spi", OptionKind::text, false, "", {}, 0, 0, "a spidev path instead of lines"};
inline constexpr std::string_view shared[] = {"chip", "clock", "data", "mosi", "spi"};
}  // namespace spi_option

}  // namespace ingle
