#include "drivers/skeleton/decode.hpp"

#include <string>

#include "tests/support/catch.hpp"

using namespace ingle;

TEST_CASE("a number is degC") {
    CHECK(std::get<double>(decode_skeleton("21.5\n")) == 21.5);
    CHECK(std::get<double>(decode_skeleton("-4.25 \r\n")) == -4.25);
    CHECK(std::get<double>(decode_skeleton("0")) == 0);
}

TEST_CASE("anything else is a fault with a reason, never a number") {
    auto const kind = [](std::string_view text) {
        auto const fault = std::get<Fault>(decode_skeleton(text));
        CHECK_FALSE(fault.reason.empty());
        return fault.kind;
    };
    CHECK(kind("") == FaultKind::no_reply);
    CHECK(kind("\n") == FaultKind::no_reply);
    for (char const* text : {"21,5", "warm", "21.5 C", "nan", "inf", "1e999", "0x10", "1.2.3", "--1"}) {
        INFO(text);
        CHECK(kind(text) == FaultKind::garbled);
    }
    CHECK(kind("-300") == FaultKind::out_of_range);
}
