#include "config/civil_time/iso_time.hpp"

#include <cstdint>
#include <utility>

namespace ingle {
namespace {

using namespace std::chrono;

// Takes exactly `count` digits off the front.
bool digits(std::string_view& text, int count, int& value) {
    if (text.size() < static_cast<std::size_t>(count)) return false;
    value = 0;
    for (int i = 0; i < count; ++i) {
        char const c = text[static_cast<std::size_t>(i)];
        if (c < '0' || c > '9') return false;
        value = value * 10 + (c - '0');
    }
    text.remove_prefix(static_cast<std::size_t>(count));
    return true;
}

bool sign(std::string_view& text, char c) {
    if (!text.starts_with(c)) return false;
    text.remove_prefix(1);
    return true;
}

std::optional<WallTime> date_and_time(std::string_view& text) {
    int y = 0, mo = 0, d = 0, h = 0, mi = 0, s = 0, fraction_ms = 0;
    if (!digits(text, 4, y) || !sign(text, '-') || !digits(text, 2, mo) || !sign(text, '-') ||
        !digits(text, 2, d) || (!sign(text, 'T') && !sign(text, 't') && !sign(text, ' ')) ||
        !digits(text, 2, h) || !sign(text, ':') || !digits(text, 2, mi))
        return std::nullopt;
    if (sign(text, ':')) {
        if (!digits(text, 2, s)) return std::nullopt;
        if (sign(text, '.') || sign(text, ',')) {
            int digit = 0, place = 100;
            if (!digits(text, 1, digit)) return std::nullopt;
            do {
                fraction_ms += place * digit, place /= 10;
            } while (digits(text, 1, digit));
        }
    }
    year_month_day const date{year(y), month(static_cast<unsigned>(mo)), day(static_cast<unsigned>(d))};
    if (!date.ok() || h > 23 || mi > 59 || s > 59) return std::nullopt;
    return WallTime(sys_days(date)) + hours(h) + minutes(mi) + std::chrono::seconds(s) +
           milliseconds(fraction_ms);
}

// "Z", "+01:00", "-0500", "+01"; `wrong` where it is none.
minutes offset_from(std::string_view text, std::string_view& wrong) {
    if (text.empty()) return wrong = "has no offset from UTC, so it could be several instants", minutes(0);
    int h = 0, m = 0;
    if (!sign(text, 'Z') && !sign(text, 'z')) {
        bool const west = sign(text, '-');
        if (!west && !sign(text, '+')) return wrong = "has no offset from UTC", minutes(0);
        if (!digits(text, 2, h) || ((sign(text, ':') || !text.empty()) && !digits(text, 2, m)) || h > 15 ||
            m > 59)
            return wrong = "has an offset from UTC that does not exist", minutes(0);
        if (west) h = -h, m = -m;
    }
    if (!text.empty()) wrong = "goes on after the offset";
    return minutes(h * 60 + m);
}

void pad(std::string& out, std::int64_t value, std::size_t width) {
    auto const text = std::to_string(value);
    if (text.size() < width) out.append(width - text.size(), '0');
    out += text;
}

bool can_be_written(WallTime at) {
    return at >= earliest_wall_time && at <= latest_wall_time;
}

}  // namespace

IsoTime read_iso_time(std::string_view text) {
    auto const local = date_and_time(text);
    if (!local) return {std::nullopt, "is no date and time"};
    IsoTime read;
    auto const offset = offset_from(text, read.wrong);
    if (!read.wrong.empty()) return read;
    if (!can_be_written(*local - offset)) return {std::nullopt, "is not in the years 0 to 9999"};
    read.at = *local - offset;
    return read;
}

std::optional<WallTime> parse_iso_time(std::string_view text) {
    return read_iso_time(text).at;
}

std::string iso_time(WallTime at, minutes offset, std::string_view zero) {
    if (!can_be_written(at + offset)) offset = minutes(0);
    auto const local = at + offset;
    auto const midnight = floor<days>(local);
    year_month_day const date{midnight};
    auto const ms = (local - midnight).count();
    std::string out;
    pad(out, static_cast<int>(date.year()), 4);
    pad(out += '-', static_cast<unsigned>(date.month()), 2);
    pad(out += '-', static_cast<unsigned>(date.day()), 2);
    pad(out += 'T', ms / 3600000, 2);
    pad(out += ':', ms / 60000 % 60, 2);
    pad(out += ':', ms / 1000 % 60, 2);
    if (ms % 1000) pad(out += '.', ms % 1000, 3);
    if (offset == minutes(0)) return out += zero;
    auto const size = abs(offset).count();
    pad(out += offset < minutes(0) ? '-' : '+', size / 60, 2);
    pad(out += ':', size % 60, 2);
    return out;
}

}  // namespace ingle
