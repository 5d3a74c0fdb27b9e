// A stretch of time as a cook says it: "last 3 h", "yesterday 14:00", "mon 18:00 to tue 02:00", on the
// clock of this machine's zone.
#pragma once

#include <optional>
#include <string>
#include <string_view>

#include "drivers/reading/clock.hpp"

namespace ingle::cli {

struct WallSpan {  // from <= at < to
    WallTime from{}, to{};
};

struct SpanResult {
    std::optional<WallSpan> span;
    std::string wrong;  // a sentence, if there is none
};

// Understood: a duration ("last 3 h", "3 h"); "today", "yesterday", a weekday or a date (the whole day); a
// moment (from then until now); "A to B" of two moments or days; "since A". A moment is [day] HH:MM[:SS] or
// ISO 8601 with offset. A local time that comes twice is taken so that the span covers both.
SpanResult parse_span(std::string_view text, WallTime now);

struct MomentResult {
    std::optional<WallTime> at;
    std::string wrong;  // a sentence, if there is none
};

// One moment; of a doubled hour the earlier one; of the missing hour there is none. Without a day: the last
// time that it was so late.
MomentResult parse_moment(std::string_view text, WallTime now);

}  // namespace ingle::cli
