// A moment as people write it down: ISO 8601 with an offset, so that it is one instant and not two. Pure.
#pragma once

#include <cstdint>
#include <string_view>

#include "config/quantity.hpp"

namespace ingle {

struct WallMoment {
    std::int64_t ms = 0;  // since 1970-01-01 UTC
};

// "2026-11-26T17:00:00-05:00", "2026-11-26 17:00Z"; without an offset it is an error that says so.
Parsed<WallMoment> parse_wall_time(std::string_view text);

// So far back can be asked for, s; the API and the CLI apply it to spans and to the width of a point.
inline constexpr double longest_look_back_s = 100 * 366 * 86'400.0;

}  // namespace ingle
