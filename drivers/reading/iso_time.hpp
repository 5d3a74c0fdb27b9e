// Wall time as text: ISO 8601 with an offset from UTC, so that it is one instant. Pure; any thread.
#pragma once

#include <chrono>
#include <optional>
#include <string>
#include <string_view>

#include "drivers/reading/clock.hpp"

namespace ingle {

// "2026-11-26T17:00:00.250-05:00", "...Z"; 'T' or a space; the offset is mandatory. Years 0 to 9999.
std::optional<WallTime> parse_iso_time(std::string_view text);
// With milliseconds only if there are any; an offset of zero is written "Z".
std::string iso_time(WallTime at, std::chrono::minutes offset = {});

}  // namespace ingle
