// What a test and a daemon with quick_clock.cpp preloaded share: a file of these five numbers.
#pragma once

#include <atomic>
#include <cstdint>

namespace ingle::quick_clock {

using Number = std::atomic<std::int64_t>;
static_assert(sizeof(Number) == 8 && Number::is_always_lock_free);
struct Page {
    Number boot_ns, wall_ns;   // what the clocks show
    Number bytes_heard;        // by the daemon, of its serial lines
    Number moves, dealt_with;  // how often they were moved, and after which of these all that was due is done
};

inline constexpr std::int64_t second_ns = 1'000'000'000;

}  // namespace ingle::quick_clock
