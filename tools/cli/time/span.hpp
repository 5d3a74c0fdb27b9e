// A stretch of time as a cook says it: "last 3 h", "yesterday 14:00", "mon 18:00 to tue 02:00", on the
// clock of this machine's zone.
#pragma once

#include <optional>
#include <string>
#include <string_view>

#include "tools/cli/time/moment.hpp"

namespace ingle::cli {

struct SpanResult {
    std::optional<WallSpan> span;
    std::string wrong;       // a sentence, if there is none
    bool understood = true;  // false: the words are about no time at all
};

// Understood: a duration ("last 3 h", "3 h"); "today", "yesterday", a weekday or a date (the whole day); a
// moment (from then until now); "this morning", "last night"; "A to B" of two moments or days; "since A". A
// moment is one of moment.hpp. A local time that comes twice is taken so that the span covers both.
SpanResult parse_span(std::string_view text, WallTime now);

}  // namespace ingle::cli
