// links: drivers_reading
#include <cstdlib>

#include "drivers/reading/recording.hpp"

// What was read without an error must be written and read again without one.
extern "C" int LLVMFuzzerTestOneInput(unsigned char const* data, std::size_t size) {
    auto const parsed = ingle::parse_recording({reinterpret_cast<char const*>(data), size});
    if (parsed.errors.empty() &&
        !ingle::parse_recording(ingle::write_recording(parsed.recording)).errors.empty())
        std::abort();
    return 0;
}
