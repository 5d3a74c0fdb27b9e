// How long a kitchen timer can run, for whoever asks and whoever starts it.
#pragma once

#include "drivers/reading/clock.hpp"

namespace ingle {

constexpr Span longest_timer = std::chrono::hours(30 * 24);
inline constexpr char timer_too_long[] = "a timer runs for 30 days at most";

}  // namespace ingle
