// What the device sends, as a value. Pure: bytes in, degC or a fault out; any thread. Keep every conversion
// here, so that tests and the fuzzer need no device.
#pragma once

#include <string_view>
#include <variant>

#include "drivers/reading/fault.hpp"

namespace ingle {

// `text` is a whole answer, e.g. "21.5\n": degC, as a number in the C notation. Anything else is a fault.
std::variant<double, Fault> decode_skeleton(std::string_view text);

}  // namespace ingle
