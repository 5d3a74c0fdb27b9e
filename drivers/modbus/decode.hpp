// What registers of a Modbus unit mean: sign, width, order, scale, unit and the values that stand for a
// fault, all of them said in the kitchen file, none guessed. Pure; any thread.
#pragma once

#include <cstdint>
#include <optional>
#include <span>
#include <string_view>
#include <variant>
#include <vector>

#include "drivers/bus/text_value.hpp"

namespace ingle {

enum class RegisterFormat { int16, uint16, int32, uint32, float32 };

// Where the four bytes of a 32-bit value are on the wire, A the highest: 100.0 (42C80000) comes as
// 42 C8 00 00 (ABCD), 00 00 42 C8 (CDAB), C8 42 00 00 (BADC), 00 00 C8 42 (DCBA).
enum class WordOrder { abcd, cdab, badc, dcba };

struct RegisterMeaning {
    RegisterFormat format = RegisterFormat::int16;
    WordOrder order = WordOrder::abcd;
    double scale = 1.0;  // of the unit, per count
    TextUnit unit = TextUnit::celsius;
    std::vector<std::int64_t> fault_values;  // counts, signed or unsigned: 32767, -32768 or 32768
};

int register_count(RegisterFormat format);  // 1 or 2
std::optional<RegisterFormat> register_format_from(std::string_view word);
std::optional<WordOrder> word_order_from(std::string_view word);

// degC, or why not. Too few registers are garbled.
std::variant<double, Fault> decode_registers(std::span<std::uint16_t const> registers,
                                             RegisterMeaning const& meaning);

}  // namespace ingle
