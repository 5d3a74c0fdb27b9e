// Wall time as text: ISO 8601 in the profile of RFC 3339, with an offset from UTC, so that it is one instant.
// Pure; any thread.
#pragma once

#include <chrono>
#include <optional>
#include <string>
#include <string_view>

namespace ingle {

using WallTime = std::chrono::sys_time<std::chrono::milliseconds>;  // UTC

// The years that are written with four digits, 0000 to 9999; what is outside is no wall time of anything.
inline constexpr WallTime earliest_wall_time{std::chrono::milliseconds(-62'167'219'200'000)};
inline constexpr WallTime latest_wall_time{std::chrono::milliseconds(253'402'300'799'999)};

struct IsoTime {
    std::optional<WallTime> at;
    std::string_view wrong;  // "has no offset from UTC", where there is none
};

// "2026-11-26T17:00:00.250-05:00", "...Z"; 'T' or a space; seconds may be left out, the offset may not, for
// without it the text could be several instants. No leap second: no clock of ours shows one.
IsoTime read_iso_time(std::string_view text);
std::optional<WallTime> parse_iso_time(std::string_view text);
// With milliseconds only if there are any. `zero`: how an offset of zero is written. A local time outside the
// years 0000 to 9999 has no such text and is written in UTC.
std::string iso_time(WallTime at, std::chrono::minutes offset = {}, std::string_view zero = "Z");

}  // namespace ingle
