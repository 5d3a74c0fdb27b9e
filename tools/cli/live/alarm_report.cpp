#include "tools/cli/live/alarm_report.hpp"

#include <algorithm>

namespace ingle::cli {
namespace {

constexpr auto stale_after = std::chrono::hours(24);      // EEMUA 191: standing for more than a day
constexpr auto chatter_window = std::chrono::minutes(1);  // ISA-18.2: three times or more in a minute
constexpr auto peak_window = std::chrono::minutes(10);

double length_s(AlarmSpell const& spell, WallTime to) {
    return seconds(spell.cleared.value_or(std::max(to, spell.raised)) - spell.raised);
}

}  // namespace

AlarmReport report_of(std::vector<AlarmSpell> const& spells, WallTime from, WallTime to) {
    AlarmReport report;
    std::vector<WallTime> times;
    std::map<std::pair<std::string, std::string>, AlarmReport::Bad> by_kind;
    std::map<std::pair<std::string, std::string>, std::vector<WallTime>> raises;
    for (auto const& spell : spells) {
        if (length_s(spell, to) > seconds(Span(stale_after))) report.stale.push_back(spell);
        if (spell.raised < from) continue;  // counted where it was raised
        times.push_back(spell.raised);
        ++report.raised;
        if (spell.acknowledged) ++report.acknowledged;
        auto const key = std::pair(spell.alarm, spell.subject);
        auto& bad = by_kind[key];
        bad.alarm = spell.alarm;
        bad.subject = spell.subject;
        ++bad.raised;
        bad.longest_s = std::max(bad.longest_s, length_s(spell, to));
        raises[key].push_back(spell.raised);
    }
    double const hours = seconds(to - from) / 3600;
    if (hours > 0) report.per_hour = static_cast<double>(report.raised) / hours;

    std::ranges::sort(times);
    for (std::size_t first = 0, last = 0; last < times.size(); ++last) {
        while (times[last] - times[first] >= peak_window) ++first;
        if (last - first + 1 > report.peak_10_min) {
            report.peak_10_min = last - first + 1;
            report.peak_at = times[first];
        }
    }
    for (auto& [key, list] : raises) {
        std::ranges::sort(list);
        for (std::size_t i = 2; i < list.size(); ++i) {
            if (list[i] - list[i - 2] > chatter_window) continue;
            report.chattering.push_back(by_kind[key]);
            break;
        }
    }
    for (auto const& [key, bad] : by_kind) report.most_frequent.push_back(bad);
    std::ranges::stable_sort(report.most_frequent, std::greater{}, &AlarmReport::Bad::raised);
    if (report.most_frequent.size() > 10) report.most_frequent.resize(10);
    report.longest = spells;
    std::ranges::stable_sort(report.longest, std::greater{},
                             [&](AlarmSpell const& s) { return length_s(s, to); });
    if (report.longest.size() > 5) report.longest.resize(5);
    return report;
}

}  // namespace ingle::cli
