// Wall times as ISO 8601 text with the offset of the process's time zone, and back. Pure but for the zone
// tables of the C library; any thread.
#pragma once

#include <optional>
#include <string>
#include <string_view>

#include "daemon/web/host.hpp"

namespace ingle {

// "2026-11-26T17:00:00-05:00"; milliseconds only where there are some. The offset tells a doubled hour apart.
std::string iso_time(WallMs at);

// The same back, also "Z" and fractions of a second; empty where the offset is missing or anything is off.
std::optional<WallMs> parse_iso_time(std::string_view text);

}  // namespace ingle
