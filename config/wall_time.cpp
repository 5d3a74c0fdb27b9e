#include "config/wall_time.hpp"

#include <chrono>
#include <string>

namespace ingle {
namespace {

constexpr std::string_view example = "\"2026-11-26T17:00:00-05:00\"";

// Exactly `count` digits at the front, or -1.
int take_digits(std::string_view& text, std::size_t count) {
    if (text.size() < count) return -1;
    int value = 0;
    for (std::size_t i = 0; i < count; ++i) {
        if (text[i] < '0' || text[i] > '9') return -1;
        value = value * 10 + (text[i] - '0');
    }
    text.remove_prefix(count);
    return value;
}

bool take(std::string_view& text, char c) {
    if (!text.starts_with(c)) return false;
    text.remove_prefix(1);
    return true;
}

}  // namespace

Parsed<WallMoment> parse_wall_time(std::string_view text) {
    auto const wrong = [&](std::string what) {
        return QuantityError{'"' + std::string(text) + "\" " + what, "write it like " + std::string(example)};
    };
    auto rest = text;
    int const year = take_digits(rest, 4);
    int const month = take(rest, '-') ? take_digits(rest, 2) : -1;
    int const day = take(rest, '-') ? take_digits(rest, 2) : -1;
    if (!take(rest, 'T') && !take(rest, ' ')) return wrong("is no date and time");
    int const hour = take_digits(rest, 2);
    int const minute = take(rest, ':') ? take_digits(rest, 2) : -1;
    int const second = take(rest, ':') ? take_digits(rest, 2) : 0;
    std::int64_t fraction_ms = 0;
    if (take(rest, '.'))
        for (std::int64_t place = 100; !rest.empty() && rest[0] >= '0' && rest[0] <= '9'; place /= 10) {
            fraction_ms += place * (rest[0] - '0');
            rest.remove_prefix(1);
        }
    std::chrono::year_month_day const date{std::chrono::year(year),
                                           std::chrono::month(static_cast<unsigned>(month)),
                                           std::chrono::day(static_cast<unsigned>(day))};
    if (year < 0 || month < 0 || day < 0 || !date.ok() || hour < 0 || hour > 23 || minute < 0 ||
        minute > 59 || second < 0 || second > 59)
        return wrong("is no date and time");

    std::int64_t offset_minutes = 0;
    if (!take(rest, 'Z')) {
        if (rest.empty()) return wrong("has no offset from UTC, so it could be several instants");
        bool const west = take(rest, '-');
        if (!west && !take(rest, '+')) return wrong("has no offset from UTC");
        int const hours = take_digits(rest, 2);
        bool const colon = take(rest, ':');
        int const minutes = colon || !rest.empty() ? take_digits(rest, 2) : 0;
        if (hours < 0 || hours > 15 || minutes < 0 || minutes > 59)
            return wrong("has an offset from UTC that does not exist");
        offset_minutes = (west ? -1 : 1) * (hours * 60 + minutes);
    }
    if (!rest.empty()) return wrong("goes on after the offset");
    auto const days = std::chrono::sys_days(date).time_since_epoch().count();
    auto const minutes = (std::int64_t{days} * 24 + hour) * 60 + minute - offset_minutes;
    return WallMoment{(minutes * 60 + second) * 1000 + fraction_ms};
}

}  // namespace ingle
