// How long an alarm can be shelved, for whoever asks and whoever grants it.
#pragma once

#include "drivers/reading/clock.hpp"

namespace ingle {

constexpr Span longest_shelving = std::chrono::hours(8);  // a night; nobody is to forget it for longer
inline constexpr char shelving_too_long[] = "an alarm can be shelved for 8 h at most";

}  // namespace ingle
