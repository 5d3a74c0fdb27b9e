#include "tools/cli/time/span.hpp"

#include <algorithm>
#include <array>
#include <cctype>
#include <vector>

#include "config/civil_time/iso_time.hpp"
#include "config/quantity.hpp"
#include "config/wall_time.hpp"
#include "tools/cli/time/local_time.hpp"

namespace ingle::cli {
namespace {

using std::chrono::days;
using std::chrono::hours;
using std::chrono::minutes;
using LocalDay = std::chrono::local_days;

std::string lower(std::string_view text) {
    std::string out(text);
    for (auto& c : out) c = static_cast<char>(std::tolower(static_cast<unsigned char>(c)));
    return out;
}

std::vector<std::string> words_of(std::string_view text) {
    std::vector<std::string> words;
    while (!text.empty()) {
        auto const end = std::min(text.find(' '), text.size());
        if (end > 0) words.emplace_back(text.substr(0, end));
        text.remove_prefix(std::min(end + 1, text.size()));
    }
    return words;
}

LocalInstants instants_of(LocalTime local) {
    return local_zone().instants(local);
}

// In the spring night the clock jumps over an hour: no instant shows such a time. Else "".
std::string missing_hour(LocalTime local) {
    if (!instants_of(local).missing) return "";
    auto const text = iso_time(WallTime(local.time_since_epoch()));
    return "there was no " + text.substr(11, 5) + " on " + text.substr(0, 10) +
           ": the clocks were put forward over it";
}

LocalDay local_day(WallTime at) {
    return std::chrono::floor<days>(local_zone().local(at));
}

std::optional<int> number(std::string_view text) {
    if (text.empty() || text.size() > 4) return {};
    int value = 0;
    for (char const c : text) {
        if (c < '0' || c > '9') return {};
        value = value * 10 + (c - '0');
    }
    return value;
}

// "14:00", "2:05:30" since midnight.
std::optional<std::chrono::seconds> time_of_day(std::string_view text) {
    std::array<int, 3> parts{};
    std::size_t count = 0;
    for (;; ++count) {
        auto const end = std::min(text.find(':'), text.size());
        auto const part = number(text.substr(0, end));
        if (!part || count == 3) return {};
        parts[count] = *part;
        if (end == text.size()) break;
        text.remove_prefix(end + 1);
    }
    if (count < 1 || parts[0] > 24 || parts[1] > 59 || parts[2] > 59) return {};
    if (parts[0] == 24 && (parts[1] || parts[2])) return {};
    return hours(parts[0]) + minutes(parts[1]) + std::chrono::seconds(parts[2]);
}

std::optional<LocalDay> day_of(std::string const& word, WallTime now) {
    auto const today = local_day(now);
    if (word == "today") return today;
    if (word == "yesterday") return today - days(1);
    constexpr std::array names{"sunday", "monday", "tuesday", "wednesday", "thursday", "friday", "saturday"};
    for (unsigned i = 0; i < names.size(); ++i) {
        std::string_view const name(names[i]);
        if (word.size() < 3 || !name.starts_with(word)) continue;
        auto day = today;  // the last one, today's included
        while (std::chrono::weekday(day).c_encoding() != i) day -= days(1);
        return day;
    }
    if (word.size() == 10 && word[4] == '-' && word[7] == '-') {
        auto const y = number(word.substr(0, 4)), m = number(word.substr(5, 2)),
                   d = number(word.substr(8, 2));
        if (!y || !m || !d) return {};
        std::chrono::year_month_day const date{std::chrono::year(*y),
                                               std::chrono::month(static_cast<unsigned>(*m)),
                                               std::chrono::day(static_cast<unsigned>(*d))};
        if (date.ok()) return LocalDay(date);
    }
    return {};
}

struct Moment {
    LocalInstants at;
    bool whole_day = false;
    LocalDay day{};
};

// `wrong` is set where the words are understood, but mean no instant.
std::optional<Moment> moment_of(std::string_view text, WallTime now, std::string& wrong) {
    if (auto const iso = parse_iso_time(text)) return Moment{{*iso, *iso}, false, {}};
    auto const words = words_of(lower(text));
    if (words.size() == 1 && words[0] == "now") return Moment{{now, now}, false, {}};
    if (words.empty() || words.size() > 2) return {};
    auto const day = day_of(words[0], now);
    auto const time = time_of_day(words.back());
    if (words.size() == 2) {
        if (!day || !time) return {};
        wrong = missing_hour(LocalTime(*day) + *time);
        if (!wrong.empty()) return {};
        return Moment{instants_of(LocalTime(*day) + *time), false, *day};
    }
    if (day) return Moment{instants_of(LocalTime(*day)), true, *day};
    if (!time) return {};
    auto local = LocalTime(local_day(now)) + *time;
    if (instants_of(local).first > now) local = LocalTime(local_day(now) - days(1)) + *time;
    wrong = missing_hour(local);
    if (!wrong.empty()) return {};
    auto const at = instants_of(local);
    return Moment{at, false, {}};
}

SpanResult checked(WallTime from, WallTime to) {
    if (from >= to) return {{}, "that span ends before it begins"};
    return {WallSpan{from, to}, ""};
}

}  // namespace

MomentResult parse_moment(std::string_view text, WallTime now) {
    std::string wrong;
    if (auto const moment = moment_of(text, now, wrong)) return {moment->at.first, ""};
    if (wrong.empty())
        wrong = "\"" + std::string(text) + "\" is no moment; try \"14:05\" or \"yesterday 18:30\"";
    return {{}, wrong};
}

SpanResult parse_span(std::string_view text, WallTime now) {
    auto const words = words_of(text);
    std::string tidy;
    for (auto const& word : words) tidy += (tidy.empty() ? "" : " ") + word;
    std::string const small = lower(tidy);
    std::string no_such;
    auto unclear = SpanResult{
        {},
        "\"" + std::string(text) +
            "\" is no span of time; understood are \"last 3 h\", \"today\", \"yesterday 14:00\", \"mon "
            "18:00 to tue 02:00\" and ISO 8601 times with offset"};

    auto const length =
        small.starts_with("last ") ? std::string_view(small).substr(5) : std::string_view(small);
    if (auto const parsed = parse_duration(length); auto const* duration = std::get_if<Duration>(&parsed)) {
        if (duration->seconds <= 0) return {{}, "a span must be longer than nothing"};
        if (duration->seconds > longest_look_back_s) return {{}, "a span is 100 years at most"};
        return checked(now - from_seconds(duration->seconds), now + std::chrono::milliseconds(1));
    }
    auto const since = small.starts_with("since ") ? 6U : 0U;
    auto const to = small.find(" to ");
    if (to != std::string::npos && since == 0) {
        auto const from = moment_of(std::string_view(tidy).substr(0, to), now, no_such);
        if (!no_such.empty()) return {{}, no_such};
        auto end = moment_of(std::string_view(tidy).substr(to + 4), now, no_such);
        if (!no_such.empty()) return {{}, no_such};
        if (!from || !end) return unclear;
        // "yesterday 14:00 to 16:00": the second time belongs to the first one's day, or the night after.
        auto const end_words = words_of(small.substr(to + 4));
        if (end_words.size() == 1 && from->day != LocalDay{} && !end->whole_day) {
            if (auto const time = time_of_day(end_words[0])) {
                end->at = instants_of(LocalTime(from->day) + *time);
                if (end->at.last <= from->at.first)
                    end->at = instants_of(LocalTime(from->day + days(1)) + *time);
            }
        }
        auto const last = end->whole_day ? instants_of(LocalTime(end->day + days(1))).last : end->at.last;
        return checked(from->at.first, last);
    }
    auto const from = moment_of(std::string_view(tidy).substr(since), now, no_such);
    if (!no_such.empty()) return {{}, no_such};
    if (!from) return unclear;
    if (from->whole_day && since == 0) {
        return checked(from->at.first, std::min(instants_of(LocalTime(from->day + days(1))).last,
                                                now + std::chrono::milliseconds(1)));
    }
    return checked(from->at.first, now + std::chrono::milliseconds(1));
}

}  // namespace ingle::cli
