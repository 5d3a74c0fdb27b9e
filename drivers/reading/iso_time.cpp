#include "drivers/reading/iso_time.hpp"

namespace ingle {
namespace {

using namespace std::chrono;

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

// What stands after the time of day: "Z", "+01:00", "-0500", "+01".
std::optional<minutes> offset_from(std::string_view text) {
    if (text == "Z") return minutes(0);
    bool const west = sign(text, '-');
    int h = 0, m = 0;
    if ((!west && !sign(text, '+')) || !digits(text, 2, h)) return std::nullopt;
    if (!text.empty() && (sign(text, ':'), !digits(text, 2, m))) return std::nullopt;
    if (!text.empty() || h > 15 || m > 59) return std::nullopt;
    return minutes((west ? -1 : 1) * (h * 60 + m));
}

void pad(std::string& out, std::int64_t value, std::size_t width) {
    auto const text = std::to_string(value);
    if (text.size() < width) out.append(width - text.size(), '0');
    out += text;
}

}  // namespace

std::optional<WallTime> parse_iso_time(std::string_view text) {
    int y = 0, mo = 0, d = 0, h = 0, mi = 0, s = 0;
    if (!digits(text, 4, y) || !sign(text, '-') || !digits(text, 2, mo) || !sign(text, '-') ||
        !digits(text, 2, d))
        return std::nullopt;
    if (!sign(text, 'T') && !sign(text, ' ')) return std::nullopt;
    if (!digits(text, 2, h) || !sign(text, ':') || !digits(text, 2, mi)) return std::nullopt;
    if (sign(text, ':') && !digits(text, 2, s)) return std::nullopt;
    int fraction_ms = 0;
    if (sign(text, '.') || sign(text, ','))
        for (int place = 100; !text.empty() && text[0] >= '0' && text[0] <= '9'; place /= 10) {
            fraction_ms += place * (text[0] - '0');
            text.remove_prefix(1);
        }
    year_month_day const date{year(y), month(static_cast<unsigned>(mo)), day(static_cast<unsigned>(d))};
    auto const offset = offset_from(text);
    if (!date.ok() || h > 23 || mi > 59 || s > 59 || !offset) return std::nullopt;
    return WallTime(sys_days(date)) + hours(h) + minutes(mi) + std::chrono::seconds(s) +
           milliseconds(fraction_ms) - *offset;
}

std::string iso_time(WallTime at, minutes offset) {
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
    if (offset == minutes(0)) return out += 'Z';
    auto const size = abs(offset).count();
    pad(out += offset < minutes(0) ? '-' : '+', size / 60, 2);
    pad(out += ':', size % 60, 2);
    return out;
}

}  // namespace ingle
