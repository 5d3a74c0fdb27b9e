#include "drivers/thermocouple/chip_words.hpp"

#include <algorithm>
#include <string>

namespace ingle {
namespace {

// Two's complement of the lowest `bits` bits.
constexpr std::int32_t signed_field(std::uint32_t value, int bits) {
    auto const sign = std::uint32_t{1} << (bits - 1);
    auto const field = value & ((sign << 1) - 1);
    return static_cast<std::int32_t>(field ^ sign) - static_cast<std::int32_t>(sign);
}

struct FaultBit {
    std::uint32_t mask;
    FaultKind kind;
    char const* meaning;
};

// Collects every bit that is set: the first gives the kind, all are named.
template <std::size_t N>
std::optional<Fault> named(std::uint32_t status, FaultBit const (&bits)[N]) {
    std::optional<Fault> fault;
    for (auto const& bit : bits) {
        if (!(status & bit.mask)) continue;
        if (fault)
            fault->reason += std::string("; ") + bit.meaning;
        else
            fault = Fault{bit.kind, bit.meaning};
    }
    return fault;
}

constexpr FaultBit max31855_bits[] = {
    {4, FaultKind::short_to_supply, "short-to-supply: a thermocouple wire touches the supply"},
    {2, FaultKind::short_to_ground, "short-to-ground: a thermocouple wire touches ground"},
    {1, FaultKind::open, "open: the thermocouple wire is broken or unplugged"},
};
constexpr std::uint32_t max31855_fault = 0x00010000, max31855_reserved = 0x00020008;

constexpr FaultBit max31856_bits[] = {
    {0x02, FaultKind::short_circuit, "over- or undervoltage: a thermocouple wire touches something live"},
    {0x01, FaultKind::open, "open: the thermocouple wire is broken or unplugged"},
    {0x40, FaultKind::out_of_range, "the thermocouple is outside the range of its type"},
    {0x80, FaultKind::out_of_range, "the chip itself is outside -55 to 125 degC"},
};

constexpr char const* line_high = "no chip answering: the data line stays high";
constexpr char const* line_low =
    "no chip answering: the data line stays low (or exactly 0 degC at both ends, which cannot be told apart)";

}  // namespace

std::optional<double> max31855_slope(ThermocoupleType type) {
    switch (type) {
        case ThermocoupleType::K:
            return 0.041276;
        case ThermocoupleType::J:
            return 0.057953;
        case ThermocoupleType::N:
            return 0.036256;
        case ThermocoupleType::S:
            return 0.009587;
        case ThermocoupleType::T:
            return 0.05218;
        case ThermocoupleType::E:
            return 0.076373;
        case ThermocoupleType::R:
            return 0.010506;
        case ThermocoupleType::B:
            break;
    }
    return std::nullopt;
}

std::optional<double> straighten_max31855(ThermocoupleType type, double chip_celsius, double cold_junction) {
    auto const slope = max31855_slope(type);
    if (!slope) return std::nullopt;
    return compensate(type, *slope * (chip_celsius - cold_junction), cold_junction);
}

Reading decode_max31855(std::uint32_t word, std::optional<ThermocoupleType> type, Instant at) {
    auto reading = Reading::faulty(at, FaultKind::no_reply, "");
    reading.word = word;
    auto const fail = [&](FaultKind kind, std::string reason) {
        reading.value = Fault{kind, std::move(reason)};
        return reading;
    };
    if (word == 0xFFFFFFFF) return fail(FaultKind::no_reply, line_high);
    if (word == 0) return fail(FaultKind::no_reply, line_low);
    if (word & max31855_reserved)
        return fail(FaultKind::garbled, "garbled: a bit that the chip always sends as 0 is 1");

    double const cold_junction = signed_field(word >> 4, 12) * 0.0625;
    auto cause = named(word, max31855_bits);
    if (!(word & max31855_fault) && cause)
        return fail(FaultKind::garbled, "garbled: a cause of a fault without the fault bit");
    reading.cold_junction = cold_junction;
    if (cause) return fail(cause->kind, std::move(cause->reason));
    if (word & max31855_fault)
        return fail(FaultKind::unspecified,
                    "fault, no cause given: the chip sets its fault bit and no other");

    double const chip_celsius = signed_field(word >> 18, 14) * 0.25;
    if (!type) {
        reading.value = chip_celsius;
        return reading;
    }
    if (!max31855_slope(*type)) return fail(FaultKind::unspecified, "the MAX31855 is not made for type B");
    auto const value = straighten_max31855(*type, chip_celsius, cold_junction);
    if (!value)
        return fail(FaultKind::out_of_range,
                    std::string("out-of-range: outside what a type ") + letter_of(*type) + " can show");
    reading.value = *value;
    return reading;
}

bool max6675_doubtful(std::uint16_t word) {
    return (word & 0xFFFE) == 0;  // the last bit floats
}

Reading decode_max6675(std::uint16_t word, Instant at) {
    auto reading = Reading::good(at, (word >> 3) * 0.25);
    reading.word = word;
    if ((word & 0xFFFE) == 0xFFFE)
        reading.value = Fault{FaultKind::no_reply, line_high};
    else if (word & 0x8002)
        reading.value = Fault{FaultKind::garbled, "garbled: a bit that the chip always sends as 0 is 1"};
    else if (word & 4)
        reading.value = Fault{FaultKind::open, "open: the thermocouple wire is broken or unplugged"};
    return reading;
}

double max31856_celsius(std::uint32_t ltcb) {
    return signed_field(ltcb >> 5, 19) / 128.0;
}

double max31856_cold_junction(std::uint16_t cjt) {
    return signed_field(static_cast<std::uint32_t>(cjt) >> 2, 14) / 64.0;
}

Reading decode_max31856(std::span<std::uint8_t const> registers, Instant at) {
    if (registers.size() != 6 && registers.size() != 16)
        return Reading::faulty(at, FaultKind::garbled,
                               "garbled: neither registers 0Ah to 0Fh nor all sixteen");
    auto const all = [&](std::uint8_t byte) {
        return std::all_of(registers.begin(), registers.end(), [byte](auto b) { return b == byte; });
    };
    if (all(0xFF)) return Reading::faulty(at, FaultKind::no_reply, line_high);
    if (all(0)) return Reading::faulty(at, FaultKind::no_reply, line_low);

    auto const last = registers.last(6);
    auto const ltcb = static_cast<std::uint32_t>(last[2] << 16 | last[3] << 8 | last[4]);
    auto reading = Reading::good(at, max31856_celsius(ltcb));
    reading.word = ltcb;
    reading.cold_junction = max31856_cold_junction(static_cast<std::uint16_t>(last[0] << 8 | last[1]));
    // With a fault the temperature registers hold an old value, whatever they show.
    if (auto fault = named(last[5], max31856_bits)) reading.value = std::move(*fault);
    return reading;
}

}  // namespace ingle
