#include "tools/cli/time/moment.hpp"

#include <algorithm>
#include <array>
#include <cctype>
#include <vector>

#include "config/civil_time/iso_time.hpp"
#include "config/quantity.hpp"
#include "tools/cli/time/local_time.hpp"

namespace ingle::cli {
namespace {

using std::chrono::days;
using std::chrono::hours;
using std::chrono::minutes;
using LocalDay = std::chrono::local_days;

// In the spring night the clock jumps over an hour: no instant shows such a time. Else "".
std::string missing_hour(LocalTime local) {
    if (!local_zone().instants(local).missing) return "";
    auto const text = iso_time(WallTime(local.time_since_epoch()));
    return "there was no " + text.substr(11, 5) + " on " + text.substr(0, 10) +
           ": the clocks were put forward over it";
}

LocalDay local_day(WallTime at) {
    return std::chrono::floor<days>(local_zone().local(at));
}

std::optional<int> whole(std::string_view text) {
    if (text.empty() || text.size() > 4) return {};
    int value = 0;
    for (char const c : text) {
        if (c < '0' || c > '9') return {};
        value = value * 10 + (c - '0');
    }
    return value;
}

// "14:00", "2:05:30", since midnight; `hour_alone`: "2" is one, too.
std::optional<std::chrono::seconds> on_the_clock(std::string_view text, bool hour_alone) {
    std::array<int, 3> parts{};
    std::size_t count = 0;
    for (;; ++count) {
        auto const end = std::min(text.find(':'), text.size());
        auto const part = whole(text.substr(0, end));
        if (!part || count == 3) return {};
        parts[count] = *part;
        if (end == text.size()) break;
        text.remove_prefix(end + 1);
    }
    if ((count < 1 && !hour_alone) || parts[0] > 24 || parts[1] > 59 || parts[2] > 59) return {};
    if (parts[0] == 24 && (parts[1] || parts[2])) return {};
    return hours(parts[0]) + minutes(parts[1]) + std::chrono::seconds(parts[2]);
}

// "14:00", "2 pm", "2:30pm", "noon", "12 noon", "midnight".
std::optional<std::chrono::seconds> time_of_day(std::string text) {
    if (text == "noon" || text == "12 noon") return hours(12);
    if (text == "midnight" || text == "12 midnight") return hours(0);
    bool const am = text.ends_with("am"), pm = text.ends_with("pm");
    if (!am && !pm) {
        // "15.30" and "15h30" are written, too.
        if (auto const mark = text.find_first_of(".h"); mark != std::string::npos && mark + 3 == text.size())
            text[mark] = ':';
        return on_the_clock(text, false);
    }
    text.erase(text.size() - 2);
    while (text.ends_with(' ')) text.pop_back();
    auto const time = on_the_clock(text, true);
    if (!time || *time < hours(1) || *time >= hours(13)) return {};
    bool const twelve = *time >= hours(12);
    return *time + hours(pm && !twelve ? 12 : am && twelve ? -12 : 0);
}

std::optional<LocalDay> date(int y, unsigned m, unsigned d) {
    std::chrono::year_month_day const written{std::chrono::year(y), std::chrono::month(m),
                                              std::chrono::day(d)};
    return written.ok() ? std::optional(LocalDay(written)) : std::nullopt;
}

// "nov 25", "25 november": the one that is nearest on the side that is meant.
std::optional<LocalDay> day_of_month(std::string const& text, WallTime now, Toward toward) {
    constexpr std::array names{"january", "february", "march",     "april",   "may",      "june",
                               "july",    "august",   "september", "october", "november", "december"};
    auto const blank = text.find(' ');
    if (blank == std::string::npos) return {};
    auto first = text.substr(0, blank), second = text.substr(blank + 1);
    if (whole(first)) std::swap(first, second);
    while (first.ends_with('.') || first.ends_with(',')) first.pop_back();
    auto const day = whole(second);
    if (!day || first.size() < 3) return {};
    auto const today = local_day(now);
    int const year = static_cast<int>(std::chrono::year_month_day(today).year());
    for (unsigned m = 0; m < names.size(); ++m) {
        if (!std::string_view(names[m]).starts_with(first)) continue;
        auto found = date(year, m + 1, static_cast<unsigned>(*day));
        if (found && toward == Toward::past && *found > today)
            found = date(year - 1, m + 1, static_cast<unsigned>(*day));
        if (found && toward == Toward::future && *found < today)
            found = date(year + 1, m + 1, static_cast<unsigned>(*day));
        return found;
    }
    return {};
}

// "last monday", "next fri": not today, though today be one.
std::optional<LocalDay> weekday_of(std::string text, WallTime now, Toward toward) {
    auto day = local_day(now);
    for (auto const& [word, towards] : {std::pair("last ", Toward::past), std::pair("next ", Toward::future)})
        if (text.starts_with(word)) {
            text.erase(0, std::string_view(word).size());
            toward = towards;
            day += days(toward == Toward::past ? -1 : 1);
            break;
        }
    constexpr std::array names{"sunday", "monday", "tuesday", "wednesday", "thursday", "friday", "saturday"};
    for (unsigned i = 0; i < names.size(); ++i) {
        if (text.size() < 3 || !std::string_view(names[i]).starts_with(text)) continue;
        while (std::chrono::weekday(day).c_encoding() != i) day += days(toward == Toward::past ? -1 : 1);
        return day;
    }
    return {};
}

std::optional<LocalDay> day_of(std::string const& text, WallTime now, Toward toward) {
    auto const today = local_day(now);
    if (text == "today" || text == "tonight") return today;
    if (text == "yesterday") return today - days(1);
    if (text == "tomorrow") return today + days(1);
    if (auto const day = weekday_of(text, now, toward)) return day;
    std::string_view const written(text);
    if (written.size() == 10 && written[4] == '-' && written[7] == '-') {
        auto const y = whole(written.substr(0, 4)), m = whole(written.substr(5, 2)),
                   d = whole(written.substr(8, 2));
        if (!y || !m || !d) return {};
        return date(*y, static_cast<unsigned>(*m), static_cast<unsigned>(*d));
    }
    return day_of_month(text, now, toward);
}

// "20 min ago", "in 2 h".
std::optional<WallTime> counted_from(std::string const& text, WallTime now) {
    bool const ago = text.ends_with(" ago"), in = text.starts_with("in ");
    if (ago == in) return {};
    auto const length_words = ago ? text.substr(0, text.size() - 4) : text.substr(3);
    auto const length = parse_duration(length_words);
    auto const* duration = std::get_if<Duration>(&length);
    if (!duration || duration->seconds < 0 || duration->seconds > 366.0 * 86'400) return {};
    return ago ? now - from_seconds(duration->seconds) : now + from_seconds(duration->seconds);
}

struct Part {  // of a day, by the hours since its midnight
    std::string_view words;
    int day, from_h, to_h;
    std::string_view such_as;
};
constexpr std::array parts{Part{"this morning", 0, 5, 12, "9 am"},
                           Part{"this afternoon", 0, 12, 18, "3 pm"},
                           Part{"this evening", 0, 17, 24, "7 pm"},
                           Part{"tonight", 0, 17, 30, "9 pm"},
                           Part{"last night", -1, 20, 30, "yesterday 11 pm"},
                           Part{"yesterday morning", -1, 5, 12, "yesterday 9 am"},
                           Part{"yesterday afternoon", -1, 12, 18, "yesterday 3 pm"},
                           Part{"yesterday evening", -1, 17, 24, "yesterday 7 pm"},
                           Part{"tomorrow morning", 1, 5, 12, "tomorrow 9 am"},
                           Part{"tomorrow afternoon", 1, 12, 18, "tomorrow 3 pm"},
                           Part{"tomorrow evening", 1, 17, 24, "tomorrow 7 pm"}};

Part const* part_called(std::string_view words) {
    auto const* found = std::ranges::find(parts, words, &Part::words);
    return found == parts.end() ? nullptr : found;
}

// "last night 11 pm", "2 am tonight": the time that lies in those hours.
std::optional<LocalTime> in_part(std::string_view part_words, std::string const& time_words, WallTime now) {
    auto const* part = part_called(part_words);
    auto const time = part ? time_of_day(time_words) : std::nullopt;
    if (!time) return {};
    auto const day = LocalTime(local_day(now) + days(part->day));
    for (auto const since : {*time, *time + hours(24)})
        if (since >= hours(part->from_h) && since < hours(part->to_h)) return day + since;
    return {};
}

// A time without a day: the nearest one on the side that is meant.
LocalTime nearest_day(std::chrono::seconds time, WallTime now, Toward toward) {
    auto const local = LocalTime(local_day(now)) + time;
    auto const first = local_zone().instants(local).first;
    if (toward == Toward::past && first > now) return local - days(1);
    if (toward == Toward::future && first <= now) return local + days(1);
    return local;
}

// A sentence for words that are understood but are no moment; "" for others.
std::string what_was_meant(std::string const& words) {
    auto const either = [&](std::string const& time) {
        return "\"" + words + "\" can be morning or evening: say \"" + time + " am\" or \"" + time + " pm\"";
    };
    if (auto const hour = whole(words)) {
        if (*hour >= 1 && *hour <= 12) return either(words);
        if (*hour >= 13 && *hour <= 24) return "\"" + words + "\" can be a number: say \"" + words + ":00\"";
    }
    if (auto const* part = part_called(words))
        return "\"" + words + "\" is several hours: say a time in it, such as \"" +
               std::string(part->such_as) + "\"";
    constexpr std::array hour_words{"one",   "two",   "three", "four", "five",   "six",
                                    "seven", "eight", "nine",  "ten",  "eleven", "twelve"};
    for (auto const& [before, minutes_past] :
         {std::pair("half past ", 30), std::pair("quarter past ", 15), std::pair("quarter to ", -15),
          std::pair("a quarter past ", 15), std::pair("a quarter to ", -15)}) {
        if (!words.starts_with(before)) continue;
        auto const named = words.substr(std::string_view(before).size());
        auto const* found = std::ranges::find(hour_words, named);
        int hour = found == hour_words.end() ? whole(named).value_or(0)
                                             : static_cast<int>(found - hour_words.begin()) + 1;
        if (hour < 1 || hour > 12) return "";
        if (minutes_past < 0) hour = hour == 1 ? 12 : hour - 1;
        return either(std::to_string(hour) + ":" + std::to_string((minutes_past + 60) % 60));
    }
    return "";
}

}  // namespace

std::string plain_words(std::string_view text) {
    std::string out;
    for (char const c : text) {
        auto const low = static_cast<char>(std::tolower(static_cast<unsigned char>(c)));
        if (low != ' ')
            out += low;
        else if (!out.empty() && out.back() != ' ')
            out += ' ';
    }
    while (out.ends_with(' ')) out.pop_back();
    return out.starts_with("at ") ? out.substr(3) : out;
}

std::optional<Moment> moment_of(std::string_view text, WallTime now, Toward toward, std::string& wrong) {
    if (auto const iso = parse_iso_time(text)) return Moment{{*iso, *iso}};
    auto const words = plain_words(text);
    if (words == "now") return Moment{{now, now}};
    if (auto const counted = counted_from(words, now)) return Moment{{*counted, *counted}};
    if (auto const day = day_of(words, now, toward))
        return Moment{local_zone().instants(LocalTime(*day)), true, {}, *day};
    auto const at = [&](LocalTime local, std::optional<std::chrono::seconds> alone) -> std::optional<Moment> {
        wrong = missing_hour(local);
        if (!wrong.empty()) return {};
        return Moment{local_zone().instants(local), false, alone};
    };
    if (auto const time = time_of_day(words)) return at(nearest_day(*time, now, toward), time);
    for (auto blank = words.find(' '); blank != std::string::npos; blank = words.find(' ', blank + 1)) {
        auto first = words.substr(0, blank), second = words.substr(blank + 1);
        if (second.starts_with("at ")) second.erase(0, 3);
        for (auto const& [day_words, time_words] : {std::pair(first, second), std::pair(second, first)}) {
            if (auto const local = in_part(day_words, time_words, now)) return at(*local, {});
            auto const day = day_of(day_words, now, toward);
            auto const time = time_of_day(time_words);
            if (day && time) return at(LocalTime(*day) + *time, {});
        }
    }
    if (wrong.empty()) wrong = what_was_meant(words);
    return {};
}

MomentResult parse_moment(std::string_view text, WallTime now, Toward toward) {
    std::string wrong;
    auto const moment = part_called(plain_words(text)) ? std::nullopt : moment_of(text, now, toward, wrong);
    if (!moment && wrong.empty()) wrong = what_was_meant(plain_words(text));
    if (moment && !moment->whole_day) return {moment->at.first, ""};
    if (moment && toward == Toward::future && moment->at.last <= now - days(1))
        return {{}, "\"" + std::string(text) + "\" is over already: say a time to come"};
    if (moment)
        return {{},
                "\"" + std::string(text) + "\" is a whole day: say a time in it, such as \"" +
                    plain_words(text) + " 5 pm\""};
    if (wrong.empty())
        wrong = "\"" + std::string(text) + "\" is not a time; try \"14:05\", \"2 pm\", " +
                (toward == Toward::past ? "\"20 min ago\" or \"yesterday 18:30\""
                                        : "\"in 20 min\" or \"tomorrow 18:30\"");
    return {{}, wrong};
}

std::optional<WallSpan> part_of_day(std::string_view text, WallTime now) {
    auto const words = plain_words(text);
    auto const* part = part_called(words);
    if (!part) return {};
    auto const day = LocalTime(local_day(now) + days(part->day));
    return WallSpan{local_zone().instants(day + hours(part->from_h)).first,
                    local_zone().instants(day + hours(part->to_h)).last};
}

}  // namespace ingle::cli
