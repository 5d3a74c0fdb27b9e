#include "drivers/max31856/setup.hpp"

#include <algorithm>

namespace ingle {
namespace {

constexpr std::uint8_t write = 0x80;
constexpr std::uint8_t converts_by_itself = 0x80, open_test_every_16 = 0x10, fifty_hertz = 0x01,
                       clear_faults = 0x02;
constexpr std::uint8_t convert_once = 0x40;

}  // namespace

Max31856Setup max31856_setup(ThermocoupleType type, bool mains_60_hertz, int average, bool one_shot) {
    Max31856Setup setup;
    setup.one_shot = one_shot;
    int steps = 0;
    while (steps < 4 && (2 << steps) <= average) ++steps;
    auto const letters = {ThermocoupleType::B, ThermocoupleType::E, ThermocoupleType::J, ThermocoupleType::K,
                          ThermocoupleType::N, ThermocoupleType::R, ThermocoupleType::S, ThermocoupleType::T};
    auto const code = std::ranges::find(letters, type) - letters.begin();
    setup.control0 = static_cast<std::uint8_t>((one_shot ? 0 : converts_by_itself) | open_test_every_16 |
                                               (mains_60_hertz ? 0 : fifty_hertz));
    setup.control1 = static_cast<std::uint8_t>((steps << 4) | code);
    setup.mask = 0xFF;
    // The data sheet's longest: 185 ms at 50 Hz, and 40 ms for each further sample; a third more for old
    // silicon.
    setup.first_conversion = Span(250 + 55 * ((1 << steps) - 1));
    return setup;
}

std::vector<std::array<std::uint8_t, 2>> max31856_writes(Max31856Setup const& setup) {
    auto const off = static_cast<std::uint8_t>(setup.control0 & ~converts_by_itself);
    return {{write | 0x00, static_cast<std::uint8_t>(off | clear_faults)},
            {write | 0x01, setup.control1},
            {write | 0x02, setup.mask},
            {write | 0x00, setup.control0}};
}

std::array<std::uint8_t, 2> max31856_ask(Max31856Setup const& setup) {
    return {write | 0x00, static_cast<std::uint8_t>(setup.control0 | convert_once)};
}

bool max31856_converting(std::span<std::uint8_t const> registers) {
    return !registers.empty() && (registers[0] & convert_once) != 0;
}

bool max31856_is_set_up(std::span<std::uint8_t const> registers, Max31856Setup const& setup) {
    constexpr std::uint8_t settled =
        static_cast<std::uint8_t>(~(clear_faults | convert_once));  // these fall back by themselves
    return registers.size() >= 3 && (registers[0] & settled) == setup.control0 &&
           registers[1] == setup.control1;
}

bool max31856_silent(std::span<std::uint8_t const> registers) {
    return std::ranges::all_of(registers, [](auto byte) { return byte == 0x00; }) ||
           std::ranges::all_of(registers, [](auto byte) { return byte == 0xFF; });
}

}  // namespace ingle
