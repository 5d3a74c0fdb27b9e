#include "daemon/web/wall_text.hpp"

#include <time.h>

#include <charconv>
#include <chrono>

namespace ingle {
namespace {

std::string digits(long value, int width) {
    auto text = std::to_string(value);
    return text.size() < static_cast<std::size_t>(width)
               ? std::string(static_cast<std::size_t>(width) - text.size(), '0') + text
               : text;
}

// Exactly `width` digits from the front of `text`, which shrinks.
std::optional<int> take_digits(std::string_view& text, std::size_t width) {
    if (text.size() < width) return {};
    int value = 0;
    for (std::size_t i = 0; i < width; ++i) {
        if (text[i] < '0' || text[i] > '9') return {};
        value = value * 10 + (text[i] - '0');
    }
    text.remove_prefix(width);
    return value;
}

bool take(std::string_view& text, char wanted) {
    if (text.empty() || text.front() != wanted) return false;
    text.remove_prefix(1);
    return true;
}

std::optional<int> take_offset_s(std::string_view& text) {
    if (take(text, 'Z')) return 0;
    bool const minus = !text.empty() && text.front() == '-';
    if (!minus && (text.empty() || text.front() != '+')) return {};
    text.remove_prefix(1);
    auto const hours = take_digits(text, 2);
    take(text, ':');
    auto const minutes = take_digits(text, 2);
    if (!hours || !minutes || *hours > 23 || *minutes > 59) return {};
    int const offset = *hours * 3600 + *minutes * 60;
    return minus ? -offset : offset;
}

}  // namespace

std::string iso_time(WallMs at) {
    auto const ms = ((at % 1000) + 1000) % 1000;
    auto const whole = static_cast<time_t>((at - ms) / 1000);
    tm parts{};
    localtime_r(&whole, &parts);
    std::string text = digits(parts.tm_year + 1900L, 4) + "-" + digits(parts.tm_mon + 1L, 2) + "-" +
                       digits(parts.tm_mday, 2) + "T" + digits(parts.tm_hour, 2) + ":" +
                       digits(parts.tm_min, 2) + ":" + digits(parts.tm_sec, 2);
    if (ms) text += "." + digits(static_cast<long>(ms), 3);
    long const offset = parts.tm_gmtoff;
    long const minutes = (offset < 0 ? -offset : offset) / 60;
    return text + (offset < 0 ? "-" : "+") + digits(minutes / 60, 2) + ":" + digits(minutes % 60, 2);
}

std::optional<WallMs> parse_iso_time(std::string_view text) {
    auto const year = take_digits(text, 4);
    if (!year || !take(text, '-')) return {};
    auto const month = take_digits(text, 2);
    if (!month || !take(text, '-')) return {};
    auto const day = take_digits(text, 2);
    if (!day || (!take(text, 'T') && !take(text, ' '))) return {};
    auto const hour = take_digits(text, 2);
    if (!hour || !take(text, ':')) return {};
    auto const minute = take_digits(text, 2);
    if (!minute) return {};
    int second = 0;
    std::int64_t ms = 0;
    if (take(text, ':')) {
        auto const whole = take_digits(text, 2);
        if (!whole) return {};
        second = *whole;
        if (take(text, '.')) {
            std::int64_t weight = 100;
            std::size_t seen = 0;
            for (; !text.empty() && text.front() >= '0' && text.front() <= '9'; ++seen, weight /= 10) {
                ms += (text.front() - '0') * weight;
                text.remove_prefix(1);
            }
            if (seen == 0) return {};
        }
    }
    auto const offset = take_offset_s(text);
    if (!offset || !text.empty() || *hour > 23 || *minute > 59 || second > 60) return {};
    std::chrono::year_month_day const date{std::chrono::year(*year),
                                           std::chrono::month(static_cast<unsigned>(*month)),
                                           std::chrono::day(static_cast<unsigned>(*day))};
    if (!date.ok()) return {};
    auto const days = std::chrono::sys_days(date).time_since_epoch().count();
    std::int64_t const s = std::int64_t{days} * 86'400 + *hour * 3600 + *minute * 60 + second - *offset;
    return s * 1000 + ms;
}

}  // namespace ingle
