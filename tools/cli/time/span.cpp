#include "tools/cli/time/span.hpp"

#include <algorithm>
#include <cctype>

#include "config/civil_time/iso_time.hpp"
#include "config/quantity.hpp"
#include "config/wall_time.hpp"
#include "tools/cli/time/local_time.hpp"

namespace ingle::cli {
namespace {

using std::chrono::days;

std::string lower_case(std::string text) {
    for (auto& c : text) c = static_cast<char>(std::tolower(static_cast<unsigned char>(c)));
    return text;
}

SpanResult checked(WallTime from, WallTime to) {
    if (from >= to) return {{}, "that span ends before it begins"};
    return {WallSpan{from, to}, ""};
}

}  // namespace

SpanResult parse_span(std::string_view text, WallTime now) {
    auto const small = plain_words(text);
    // ISO 8601 times keep their capitals: blanks alone are tidied.
    std::string tidy;
    for (char const c : text)
        if (c != ' ' || (!tidy.empty() && tidy.back() != ' ')) tidy += c;
    while (tidy.ends_with(' ')) tidy.pop_back();
    std::string no_such;
    auto unclear = SpanResult{
        {},
        "\"" + std::string(text) +
            "\" is not a time span; try \"last 3 h\", \"this morning\", \"yesterday 14:00\", \"mon 18:00 "
            "to tue 02:00\" or ISO 8601 times with offset",
        false};
    auto const until_now = now + std::chrono::milliseconds(1);

    if (auto const part = part_of_day(small, now)) {
        if (part->from >= now) return {{}, "\"" + small + "\" has not begun yet"};
        return checked(part->from, std::min(part->to, until_now));
    }
    if (small == "this week") {
        auto day = std::chrono::floor<days>(local_zone().local(now));
        while (std::chrono::weekday(day) != std::chrono::Monday) day -= days(1);
        return checked(local_zone().instants(LocalTime(day)).first, until_now);
    }
    auto length = small.starts_with("last ") ? small.substr(5) : small;
    if (length.ends_with(" ago")) length.erase(length.size() - 4);  // from then until now
    if (length == "hour" || length == "minute" || length == "day") length = "1 " + length.substr(0, 1);
    if (length == "1 m") length = "1 min";
    if (length == "1 d") length = "1 day";
    if (length == "week") length = "7 days";
    if (auto const parsed = parse_duration(length); auto const* duration = std::get_if<Duration>(&parsed)) {
        if (duration->seconds <= 0) return {{}, "a span must be longer than nothing"};
        if (duration->seconds > longest_look_back_s) return {{}, "a span is 100 years at most"};
        return checked(now - from_seconds(duration->seconds), until_now);
    }
    auto const since = small.starts_with("since ") ? 6U : 0U;
    auto const to = lower_case(tidy).find(" to ");
    if (to != std::string::npos && since == 0) {
        auto const from = moment_of(std::string_view(tidy).substr(0, to), now, Toward::past, no_such);
        if (!no_such.empty()) return {{}, no_such};
        auto end = moment_of(std::string_view(tidy).substr(to + 4), now, Toward::past, no_such);
        if (!no_such.empty()) return {{}, no_such};
        if (!from || !end) return unclear;
        // "yesterday 14:00 to 16:00": the second time belongs to the first one's day, or the night after.
        if (end->time_alone) {
            auto const day = std::chrono::floor<days>(local_zone().local(from->at.first));
            end->at = local_zone().instants(LocalTime(day) + *end->time_alone);
            if (end->at.last <= from->at.first)
                end->at = local_zone().instants(LocalTime(day + days(1)) + *end->time_alone);
        }
        auto const last =
            end->whole_day ? local_zone().instants(LocalTime(end->day + days(1))).last : end->at.last;
        return checked(from->at.first, last);
    }
    auto const from = moment_of(std::string_view(tidy).substr(since), now, Toward::past, no_such);
    if (!no_such.empty()) return {{}, no_such};
    if (!from) return unclear;
    if (from->whole_day && since == 0) {
        return checked(from->at.first, std::min(local_zone().instants(LocalTime(from->day + days(1))).last,
                                                now + std::chrono::milliseconds(1)));
    }
    return checked(from->at.first, now + std::chrono::milliseconds(1));
}

}  // namespace ingle::cli
