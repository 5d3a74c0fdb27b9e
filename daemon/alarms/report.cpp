#include "daemon/alarms/report.hpp"

#include <algorithm>
#include <charconv>
#include <chrono>
#include <cmath>
#include <initializer_list>
#include <map>

#include "config/quantity.hpp"

namespace ingle {

namespace {

using std::chrono::hours;
using std::chrono::minutes;

constexpr Span peak_window = minutes(10);
constexpr Span chatter_window = minutes(1);
constexpr int chatter_raises = 3;
constexpr Span stale_from = hours(24);
constexpr Span fleeting = minutes(1);      // gone before anybody could do something about it
constexpr Span coming_back = minutes(10);  // gaps shorter than this are one story
constexpr std::size_t longest_listed = 5;

// Settings that people use; a proposal is rounded up to the next of them.
Span tidy(Span span) {
    for (Span const usual : std::initializer_list<Span>{std::chrono::seconds(10), std::chrono::seconds(30),
                                                        minutes(1), minutes(2), minutes(5), minutes(10)})
        if (span < usual) return usual;
    return std::chrono::ceil<minutes>(span);
}

struct OneAlarm {
    std::vector<Spell> spells;  // those raised within the span, and one that stood at its begin
    std::vector<Instant> raised;
    int folded = 0;
};
using ByAlarm = std::map<std::pair<std::string, std::string>, OneAlarm>;

bool begins(Transition t) {
    return t == Transition::raised || t == Transition::unsuppressed;
}

int most_within(std::vector<Instant> const& times, Span window, std::optional<Instant>* when = nullptr) {
    int most = 0;
    std::size_t first = 0;
    for (std::size_t i = 0; i < times.size(); ++i) {
        while (times[i] - times[first] >= window) ++first;
        int const count = static_cast<int>(i - first) + 1;
        if (count <= most) continue;
        most = count;
        if (when) *when = times[first];
    }
    return most;
}

std::string number(double value) {
    char text[32];
    return {text, std::to_chars(text, text + sizeof text, value, std::chars_format::fixed, 1).ptr};
}
std::string length(Span span) {
    return show(Duration{std::round(seconds(span))});
}

std::optional<Nuisance> nuisance_in(std::pair<std::string, std::string> const& name, OneAlarm const& one) {
    int const raised = static_cast<int>(one.raised.size()) + one.folded;
    if (raised < 2) return std::nullopt;
    Nuisance n{name.first, name.second, {}, raised, {}, {}, 0, one.spells};
    Span longest_fleeting{0}, longest_gap{0};
    int short_ones = 0, gaps = 0;
    for (std::size_t i = 0; i < one.spells.size(); ++i) {
        Spell const& spell = one.spells[i];
        if (spell.to && *spell.to - spell.from < fleeting) {
            ++short_ones;
            longest_fleeting = std::max(longest_fleeting, *spell.to - spell.from);
        }
        if (i == 0 || !one.spells[i - 1].to) continue;
        Span const gap = spell.from - *one.spells[i - 1].to;
        if (gap >= coming_back) continue;
        ++gaps;
        longest_gap = std::max(longest_gap, gap);
    }
    bool const chatters =
        most_within(one.raised, chatter_window) >= chatter_raises || one.folded >= chatter_raises - 1;
    if (chatters || gaps >= 2) {
        n.why = chatters ? "chattering" : "coming back";
        n.prevented = gaps;
        if (gaps > 0) n.off_delay = tidy(longest_gap);
    }
    // Half of its spells gone within a minute: waiting is the better cure, if it prevents more.
    if (short_ones >= 2 && 2 * short_ones >= static_cast<int>(one.spells.size()) &&
        short_ones > n.prevented) {
        if (n.why.empty()) n.why = "fleeting";
        n.prevented = short_ones;
        n.on_delay = tidy(longest_fleeting);
        n.off_delay.reset();
    }
    if (n.why.empty()) return std::nullopt;
    return n;
}

}  // namespace

AlarmReport report_on(std::span<PastTransition const> past, Instant from, Instant to) {
    AlarmReport report;
    report.span = to - from;
    ByAlarm alarms;
    std::vector<Instant> all;
    std::map<std::int64_t, Instant> unanswered;  // by id: when it was raised
    std::map<std::int64_t, int> folded;
    std::vector<Span> answers;
    int answered = 0, ids = 0;
    for (PastTransition const& t : past) {
        if (t.at >= to) break;
        OneAlarm& one = alarms[{t.alarm, t.subject}];
        bool const within = t.at >= from;
        bool const standing = !one.spells.empty() && !one.spells.back().to;
        if (begins(t.transition)) {
            if (!standing) one.spells.push_back({t.at, {}});
            if (within) {
                one.raised.push_back(t.at);
                all.push_back(t.at);
                ++report.raised;
                ++report.by_priority[static_cast<std::size_t>(t.priority)];
                if (folded.try_emplace(t.id, 0).second) {
                    ++ids;
                    unanswered[t.id] = t.at;
                } else {
                    ++folded[t.id];  // this raise is counted as such, not as folded
                }
            }
        } else if (t.transition == Transition::cleared || t.transition == Transition::suppressed) {
            if (standing) one.spells.back().to = t.at;
            if (within && t.transition == Transition::cleared && folded.contains(t.id)) {
                one.folded += std::max(0, t.spells - 1 - folded[t.id]);
                folded[t.id] = std::max(folded[t.id], t.spells - 1);
            }
        } else if (t.transition == Transition::acknowledged) {
            auto const found = unanswered.find(t.id);
            if (found == unanswered.end()) continue;
            answers.push_back(t.at - found->second);
            ++answered;
            unanswered.erase(found);
        }
    }
    double const in_hours = seconds(report.span) / 3600;
    if (in_hours > 0) report.per_hour = report.raised / in_hours;
    report.peak_in_10_min = most_within(all, peak_window, &report.peak_at);
    if (ids > 0) report.acknowledged = static_cast<double>(answered) / ids;
    if (!answers.empty()) {
        auto const middle = answers.begin() + static_cast<std::ptrdiff_t>((answers.size() - 1) / 2);
        std::nth_element(answers.begin(), middle, answers.end());
        report.median_to_acknowledge = *middle;
    }
    for (auto& [name, one] : alarms) {
        std::erase_if(one.spells, [&](Spell const& s) { return s.to && *s.to <= from; });
        for (Spell const& s : one.spells) {
            Span const stood = s.to.value_or(to) - s.from;
            report.longest.push_back({name.first, name.second, s.from, stood, !s.to});
            report.stale += stood > stale_from;
        }
        if (auto n = nuisance_in(name, one)) {
            report.chattering += n->why == "chattering";
            report.nuisances.push_back(std::move(*n));
        }
    }
    std::stable_sort(report.longest.begin(), report.longest.end(),
                     [](auto const& a, auto const& b) { return a.length > b.length; });
    if (report.longest.size() > longest_listed) report.longest.resize(longest_listed);
    std::stable_sort(report.nuisances.begin(), report.nuisances.end(),
                     [](auto const& a, auto const& b) { return a.raised > b.raised; });
    return report;
}

double deadband_to_join(std::span<std::pair<Instant, double> const> readings, std::span<Spell const> spells,
                        double limit) {
    double deadband = 0;
    for (std::size_t i = 1; i < spells.size(); ++i) {
        if (!spells[i - 1].to || spells[i].from - *spells[i - 1].to >= coming_back) continue;
        for (auto const& [at, value] : readings)
            if (at >= *spells[i - 1].to && at < spells[i].from)
                deadband = std::max(deadband, std::abs(value - limit));
    }
    return deadband;
}

std::vector<std::string> in_words(AlarmReport const& r) {
    std::vector<std::string> lines;
    lines.push_back(std::to_string(r.raised) + " alarms in " + length(r.span) + ": " + number(r.per_hour) +
                    " an hour, at most " + std::to_string(r.peak_in_10_min) + " in 10 minutes (" +
                    std::to_string(r.by_priority[2]) + " high, " + std::to_string(r.by_priority[1]) +
                    " medium, " + std::to_string(r.by_priority[0]) + " low).");
    if (r.acknowledged) {
        std::string text = std::to_string(std::lround(*r.acknowledged * 100)) + " % were acknowledged";
        if (r.median_to_acknowledge) text += ", half of those within " + length(*r.median_to_acknowledge);
        lines.push_back(text + ".");
    }
    if (r.stale > 0) lines.push_back(std::to_string(r.stale) + " stood for more than 24 h.");
    for (StandingAlarm const& s : r.longest)
        lines.push_back(s.subject + ": " + s.alarm + " stood for " + length(s.length) +
                        (s.still ? " and still does." : "."));
    for (Nuisance const& n : r.nuisances) {
        std::string text = "Nuisance: " + n.subject + ": " + n.alarm + " is " + n.why + " (" +
                           std::to_string(n.raised) + " times).";
        if (n.on_delay) text += " An on-delay of " + length(*n.on_delay);
        if (n.off_delay) text += " An off-delay of " + length(*n.off_delay);
        if (n.on_delay || n.off_delay)
            text += " would have prevented " + std::to_string(n.prevented) + " of them.";
        lines.push_back(std::move(text));
    }
    return lines;
}

}  // namespace ingle
