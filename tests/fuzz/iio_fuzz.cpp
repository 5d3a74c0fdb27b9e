// links: drivers_iio
#include <algorithm>
#include <cstdlib>
#include <string>
#include <string_view>

#include "drivers/iio/decode.hpp"

using namespace ingle;

// The first byte chooses chip and type; then one line a file, as far as there are lines.
extern "C" int LLVMFuzzerTestOneInput(unsigned char const* data, std::size_t size) {
    if (size < 1) return 0;
    std::string_view rest(reinterpret_cast<char const*>(data) + 1, size - 1);
    auto const line = [&]() -> FileText {
        if (rest.empty()) return {{}, 2};
        auto const end = std::min(rest.find('\n'), rest.size());
        std::string const text(rest.substr(0, end));
        rest.remove_prefix(std::min(end + 1, rest.size()));
        return {text, text == "-" ? 2 : 0};
    };
    IioFiles files;
    files.name = (data[0] & 1) ? "maxim_thermocouple" : "max31856";
    if (data[0] & 2) files.type = static_cast<ThermocoupleType>((data[0] >> 2) % 8);
    files.hot = {line(), line(), line(), line()};
    files.cold = {line(), line(), line(), line()};
    files.fault_oc = line();
    files.fault_ovuv = line();
    auto const reading = decode_iio({}, files);
    if (reading.ok() ? !(reading.celsius() >= -273.15 && reading.celsius() <= 1820.0)
                     : reading.fault().reason.empty())
        std::abort();
    return 0;
}
