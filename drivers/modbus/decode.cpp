#include "drivers/modbus/decode.hpp"

#include <algorithm>
#include <bit>
#include <cmath>
#include <string>

namespace ingle {
namespace {

std::uint16_t swapped(std::uint16_t word) {
    return static_cast<std::uint16_t>((word >> 8) | (word << 8));
}

std::uint32_t joined(std::span<std::uint16_t const> registers, WordOrder order) {
    auto first = registers[0], second = registers[1];
    if (order == WordOrder::cdab || order == WordOrder::dcba) std::swap(first, second);
    if (order == WordOrder::badc || order == WordOrder::dcba) {
        first = swapped(first);
        second = swapped(second);
    }
    return (static_cast<std::uint32_t>(first) << 16) | second;
}

}  // namespace

int register_count(RegisterFormat format) {
    return format == RegisterFormat::int16 || format == RegisterFormat::uint16 ? 1 : 2;
}

std::optional<RegisterFormat> register_format_from(std::string_view word) {
    if (word == "int16") return RegisterFormat::int16;
    if (word == "uint16") return RegisterFormat::uint16;
    if (word == "int32") return RegisterFormat::int32;
    if (word == "uint32") return RegisterFormat::uint32;
    if (word == "float32") return RegisterFormat::float32;
    return std::nullopt;
}

std::optional<WordOrder> word_order_from(std::string_view word) {
    if (word == "ABCD") return WordOrder::abcd;
    if (word == "CDAB") return WordOrder::cdab;
    if (word == "BADC") return WordOrder::badc;
    if (word == "DCBA") return WordOrder::dcba;
    return std::nullopt;
}

std::variant<double, Fault> decode_registers(std::span<std::uint16_t const> registers,
                                             RegisterMeaning const& meaning) {
    if (registers.size() < static_cast<std::size_t>(register_count(meaning.format)))
        return Fault{FaultKind::garbled, "the answer holds too few registers"};
    bool const is_short = register_count(meaning.format) == 1;
    std::uint32_t const bits = is_short ? registers[0] : joined(registers, meaning.order);
    std::int64_t const without_sign = bits;
    std::int64_t const with_sign =
        is_short ? static_cast<std::int16_t>(registers[0]) : static_cast<std::int32_t>(bits);
    for (auto const value : meaning.fault_values)
        if (value == with_sign || value == without_sign)
            return Fault{FaultKind::unspecified, "the unit sends " + std::to_string(value) +
                                                     ", its sign for a fault (open input or out of range)"};
    double number = 0;
    if (meaning.format == RegisterFormat::float32) {
        number = static_cast<double>(std::bit_cast<float>(bits));
        if (!std::isfinite(number)) return Fault{FaultKind::unspecified, "the unit sends no finite number"};
    } else {
        bool const has_sign =
            meaning.format == RegisterFormat::int16 || meaning.format == RegisterFormat::int32;
        number = static_cast<double>(has_sign ? with_sign : without_sign);
    }
    number *= meaning.scale;
    return to_celsius(TextNumber{number, meaning.unit}, meaning.unit, std::to_string(number));
}

}  // namespace ingle
