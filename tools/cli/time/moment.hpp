// A moment as a cook says it, on the clock of this machine's zone: "14:05", "2 pm", "noon", "20 min ago",
// "in 2 h", "yesterday 18:30", "Nov 25 5 pm", or ISO 8601 with offset.
#pragma once

#include <chrono>
#include <optional>
#include <string>
#include <string_view>

#include "config/civil_time/time_zone.hpp"
#include "drivers/reading/clock.hpp"

namespace ingle::cli {

enum class Toward { past, future };  // which way a time without a day, or a day without a year, is looked for

struct WallSpan {  // from <= at < to
    WallTime from{}, to{};
};

struct Moment {
    LocalInstants at;  // two in the hour that comes twice
    bool whole_day = false;
    std::optional<std::chrono::seconds> time_alone = {};  // since midnight, where no day was said
    std::chrono::local_days day{};                        // of a whole day
};

// Empty: no moment. `wrong` is then a sentence where the words are understood, but mean no instant.
std::optional<Moment> moment_of(std::string_view text, WallTime now, Toward toward, std::string& wrong);
// "this morning", "last night", "tomorrow evening": the hours of it. Empty: the words are no such part.
std::optional<WallSpan> part_of_day(std::string_view text, WallTime now);
// Lower case, single blanks, without a leading "at".
std::string plain_words(std::string_view text);

struct MomentResult {
    std::optional<WallTime> at;
    std::string wrong;  // a sentence, if there is none
};

// One moment; of a doubled hour the earlier one; of the missing hour there is none.
MomentResult parse_moment(std::string_view text, WallTime now, Toward toward = Toward::past);

}  // namespace ingle::cli
