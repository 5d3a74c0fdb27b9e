#include "config/civil_time/posix_rule.hpp"

#include <algorithm>
#include <array>
#include <string_view>

namespace ingle {
namespace {

using namespace std::chrono;

bool is_letter(char c) {
    return (c >= 'A' && c <= 'Z') || (c >= 'a' && c <= 'z');
}
bool is_digit(char c) {
    return c >= '0' && c <= '9';
}

}  // namespace

// What is left of a rule; each function takes its part off the front, or says that it is not there.
class PosixRule::Text {
public:
    explicit Text(std::string_view text) : text_(text) {}
    bool empty() const { return text_.empty(); }

    bool take(char c) {
        if (!text_.starts_with(c)) return false;
        text_.remove_prefix(1);
        return true;
    }

    // At least three letters, or in <> letters, digits and signs.
    bool name() {
        bool const quoted = take('<');
        auto const fits = [quoted](char c) {
            return is_letter(c) || (quoted && (is_digit(c) || c == '+' || c == '-'));
        };
        auto const end = std::ranges::find_if_not(text_, fits);
        auto const length = end - text_.begin();
        text_.remove_prefix(static_cast<std::size_t>(length));
        return length >= 3 && (!quoted || take('>'));
    }

    bool number(int least, int most, int& value) {
        if (empty() || !is_digit(text_[0])) return false;
        for (value = 0; !empty() && is_digit(text_[0]) && value <= most; text_.remove_prefix(1))
            value = value * 10 + (text_[0] - '0');
        return value >= least && value <= most;
    }

    // [+-]hh[:mm[:ss]]
    bool time(int most_hours, std::chrono::seconds& value) {
        bool const negative = take('-');
        if (!negative) take('+');
        int h = 0, m = 0, s = 0;
        if (!number(0, most_hours, h)) return false;
        if (take(':') && (!number(0, 59, m) || (take(':') && !number(0, 59, s)))) return false;
        value = hours(h) + minutes(m) + std::chrono::seconds(s);
        if (negative) value = -value;
        return true;
    }

    // ",M3.5.0/2", ",J60", ",59/-1"
    bool change(Change& value) {
        if (!take(',')) return false;
        if (take('M')) {
            if (!number(1, 12, value.month) || !take('.') || !number(1, 5, value.week) || !take('.') ||
                !number(0, 6, value.day))
                return false;
        } else if (take('J')) {
            value.kind = Change::Kind::day_without_leap;
            if (!number(1, 365, value.day)) return false;
        } else {
            value.kind = Change::Kind::day_of_year;
            if (!number(0, 365, value.day)) return false;
        }
        return !take('/') || time(167, value.time);
    }

private:
    std::string_view text_;
};

local_seconds PosixRule::Change::in(year y) const {
    if (kind == Kind::weekday_of_month) {
        month_weekday const wanted(std::chrono::month(static_cast<unsigned>(month)),
                                   weekday(static_cast<unsigned>(day))[static_cast<unsigned>(week)]);
        auto const date = week == 5
                              ? local_days(y / wanted.month() / wanted.weekday_indexed().weekday()[last])
                              : local_days(y / wanted.month() / wanted.weekday_indexed());
        return date + time;
    }
    local_days const new_year(y / January / 1);
    if (kind == Kind::day_of_year) return new_year + days(day) + time;
    bool const after_leap_day = y.is_leap() && day >= 60;  // J60 is always 1 March
    return new_year + days(day - (after_leap_day ? 0 : 1)) + time;
}

std::optional<PosixRule> PosixRule::from(std::string_view text) {
    Text rest(text);
    PosixRule rule;
    // The sign of an offset is that of the way to UTC: west is positive.
    if (!rest.name() || !rest.time(24, rule.standard_)) return std::nullopt;
    rule.standard_ = -rule.standard_;
    if (rest.empty()) return rule;
    if (!rest.name()) return std::nullopt;
    rule.summer_ = rule.standard_ + hours(1);
    if (std::chrono::seconds offset{0}; !rest.empty() && Text(rest).time(24, offset)) {
        rest.time(24, offset);
        rule.summer_ = -offset;
    }
    if (rest.empty()) rest = Text(",M3.2.0,M11.1.0");
    Change to_summer, to_standard;
    if (!rest.change(to_summer) || !rest.change(to_standard) || !rest.empty()) return std::nullopt;
    rule.to_summer_ = to_summer, rule.to_standard_ = to_standard;
    return rule;
}

ZonePeriod PosixRule::at(sys_seconds t) const {
    if (!to_summer_) return {zone_begin, zone_end, standard_};
    t = std::clamp(t, zone_begin, zone_end);
    struct Moment {
        sys_seconds at;
        std::chrono::seconds offset;  // from then on
    };
    std::array<Moment, 6> moments;
    auto next = moments.begin();
    auto const middle = year_month_day(floor<days>(t + standard_)).year();
    for (auto const y : {middle - years(1), middle, middle + years(1)}) {
        *next++ = {sys_seconds(to_summer_->in(y).time_since_epoch() - standard_), summer_};
        *next++ = {sys_seconds(to_standard_->in(y).time_since_epoch() - summer_), standard_};
    }
    std::ranges::stable_sort(moments, {}, &Moment::at);
    auto const after = std::ranges::upper_bound(moments, t, {}, &Moment::at);
    // A year before and a year after are in it: there is one on each side.
    auto const before = std::prev(after);
    return {before->at, after->at, before->offset};
}

}  // namespace ingle
