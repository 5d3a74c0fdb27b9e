// How a MAX31856 is told its type, filter and averaging, and how one sees that it still is. Pure; any thread.
// Registers as the Linux driver max31856.c uses them: 00h CR0, 01h CR1, 02h MASK; a write has 80h in its
// address.
#pragma once

#include <array>
#include <cstdint>
#include <span>
#include <vector>

#include "drivers/reading/clock.hpp"
#include "drivers/thermocouple/its90.hpp"

namespace ingle {

struct Max31856Setup {
    std::uint8_t control0 = 0, control1 = 0, mask = 0;
    Span first_conversion{};  // from switching on, or from asking for one value, to that value
    bool one_shot = false;    // converts when asked, and rests between
};

// `average`: 1, 2, 4, 8 or 16 samples (between two of them, the lower).
Max31856Setup max31856_setup(ThermocoupleType type, bool mains_60_hertz, int average, bool one_shot = false);

// One exchange each, in order: the filter may only change while conversions are off.
std::vector<std::array<std::uint8_t, 2>> max31856_writes(Max31856Setup const& setup);

// Asks a chip that rests for one value.
std::array<std::uint8_t, 2> max31856_ask(Max31856Setup const& setup);
bool max31856_converting(std::span<std::uint8_t const> registers);  // asked, and not done yet

// `registers`: from 00h on, at least 3.
bool max31856_is_set_up(std::span<std::uint8_t const> registers, Max31856Setup const& setup);
bool max31856_silent(
    std::span<std::uint8_t const> registers);  // all ones or all zeros: nobody drives the line

}  // namespace ingle
