#include "drivers/reading/clock.hpp"

#include <ctime>

namespace ingle {

BootClock::time_point BootClock::now() noexcept {
    timespec t{};
    clock_gettime(CLOCK_BOOTTIME, &t);
    return time_point(duration(static_cast<rep>(t.tv_sec) * 1000 + t.tv_nsec / 1'000'000));
}

}  // namespace ingle
