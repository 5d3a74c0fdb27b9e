// links: drivers_hwmon
#include <algorithm>
#include <cstdlib>
#include <string>
#include <string_view>

#include "drivers/hwmon/decode.hpp"

using namespace ingle;

// Three lines: input, fault, enable; the last two may be missing.
extern "C" int LLVMFuzzerTestOneInput(unsigned char const* data, std::size_t size) {
    std::string_view rest(reinterpret_cast<char const*>(data), size);
    auto const line = [&]() -> FileText {
        if (rest.empty()) return {{}, 2};
        auto const end = std::min(rest.find('\n'), rest.size());
        std::string const text(rest.substr(0, end));
        rest.remove_prefix(std::min(end + 1, rest.size()));
        return {text, 0};
    };
    HwmonFiles const files{line(), line(), line()};
    auto const result = decode_hwmon("temp1", files);
    if (auto const* celsius = std::get_if<double>(&result))
        if (!(*celsius >= -273.15 && *celsius <= 1820.0)) std::abort();
    return 0;
}
