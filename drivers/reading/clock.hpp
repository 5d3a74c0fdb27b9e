// The clock that readings are stamped with: CLOCK_BOOTTIME, which never jumps and counts through suspend.
// Values only; any thread.
#pragma once

#include <chrono>
#include <cstdint>

namespace ingle {

struct BootClock {
    using rep = std::int64_t;
    using period = std::milli;
    using duration = std::chrono::duration<rep, period>;
    using time_point = std::chrono::time_point<BootClock>;
    static constexpr bool is_steady = true;
    static time_point now() noexcept;  // not for the core: it is told the time
};

using Instant = BootClock::time_point;  // milliseconds since boot; negative = before this boot
using Span = BootClock::duration;       // milliseconds
using WallTime = std::chrono::sys_time<std::chrono::milliseconds>;  // UTC

constexpr double seconds(Span s) {
    return static_cast<double>(s.count()) / 1000.0;
}
constexpr Span from_seconds(double s) {
    return Span(static_cast<std::int64_t>(s * 1000.0 + (s < 0 ? -0.5 : 0.5)));
}

}  // namespace ingle
