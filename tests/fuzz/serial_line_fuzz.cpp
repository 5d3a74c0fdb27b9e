// links: drivers_serial_line
#include <cstdlib>

#include "drivers/serial_line/source.hpp"

using namespace ingle;

// The first byte says in what pieces the rest comes: the readings must not depend on it.
extern "C" int LLVMFuzzerTestOneInput(unsigned char const* data, std::size_t size) {
    if (size < 2) return 0;
    std::size_t const piece = data[0] % 69 + 1;
    std::string_view const bytes(reinterpret_cast<char const*>(data) + 1, size - 1);
    std::vector<SourceChannel> const channels{
        {"T1", TextUnit::celsius}, {"1", {}}, {"2", TextUnit::fahrenheit}};
    SerialSource whole(channels, Comma::careful), pieces(channels, Comma::careful);
    auto const expected = whole.bytes(Instant{}, bytes).readings;
    std::size_t count = 0;
    for (std::size_t from = 0; from < bytes.size(); from += piece)
        for (auto const& [channel, reading] : pieces.bytes(Instant{}, bytes.substr(from, piece)).readings) {
            if (count >= expected.size() || expected[count].first != channel ||
                expected[count].second.value != reading.value)
                std::abort();
            if (reading.ok() && !(reading.celsius() >= -273.15 && reading.celsius() <= 1820.0)) std::abort();
            ++count;
        }
    if (count != expected.size()) std::abort();
    return 0;
}
