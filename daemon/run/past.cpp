#include "daemon/run/past.hpp"

#include <algorithm>
#include <map>
#include <optional>
#include <utility>

#include "daemon/logbook/cook_places.hpp"
#include "daemon/notices/notice.hpp"

namespace ingle {
namespace {

WallMs ms(logbook::Moment const& moment) {
    return moment.wall.time_since_epoch().count();
}

logbook::Window window(TimeSpan span) {
    return {WallTime(std::chrono::milliseconds(span.from)), WallTime(std::chrono::milliseconds(span.to))};
}

std::vector<std::string> probes_of(logbook::Reader& reader, std::vector<std::string> const& asked) {
    if (!asked.empty()) return asked;
    std::vector<std::string> names;
    for (auto const& probe : reader.probes())
        if (std::ranges::find(names, probe.name) == names.end()) names.push_back(probe.name);
    return names;
}

Priority priority_from(std::string const& word) {
    if (word == "high") return Priority::high;
    return word == "low" ? Priority::low : Priority::medium;
}

std::vector<PastPlace> past_places(std::vector<logbook::Place> const& places) {
    std::vector<PastPlace> out;
    for (auto const& place : places)
        out.push_back({place.vessel, place.probe, ms(place.from),
                       place.to ? std::optional(ms(*place.to)) : std::nullopt});
    return out;
}

constexpr WallMs learnt_within = 24 * 3'600'000;  // after a start: how long it was off

// When nothing was read of anything because the program was off, or its machine stood still. One whose length
// was learnt later ended with its start; of several that only their sum is known of, the last is shown.
std::vector<HistoryGap> outages(std::vector<logbook::EventRow> const& events, History const& read,
                                HistoryQuery const& query) {
    std::vector<HistoryGap> out;
    std::optional<WallMs> unmeasured;
    for (auto const& event : events) {
        auto const length =
            std::ranges::find(event.numbers, "length_s", [](auto const& n) { return n.first; });
        if (length == event.numbers.end()) {
            unmeasured = ms(event.at);
            continue;
        }
        HistoryGap gap{"", 0, std::exchange(unmeasured, std::nullopt).value_or(ms(event.at)), event.text};
        gap.from = std::max(query.span.from, gap.to - static_cast<WallMs>(length->second * 1000));
        for (auto const& series : read.series)
            for (auto const& point : series.points)
                if (point.at + query.grain.count() <= gap.to) gap.from = std::max(gap.from, point.at);
        if (gap.from < query.span.to && gap.from < gap.to) out.push_back(std::move(gap));
    }
    return out;
}

}  // namespace

Answer<History> past_history(logbook::Reader& reader, HistoryQuery const& query) {
    Answer<History> answer;
    std::size_t points = 0;
    std::vector<logbook::HistoryQuery> asked;
    for (auto const& name : probes_of(reader, query.probes))
        asked.push_back({name, window(query.span), query.grain});
    // Before anything is read: a month of readings would not fit into the memory of a small board.
    auto const too_many = [&](std::size_t n) {
        return "that is " + std::to_string(n) + " points, and at most " + std::to_string(query.most) +
               " are given at once; ask for a coarser grain or a shorter span";
    };
    if (query.grain.count() == 0) {
        if (auto const least = reader.count_at_least(asked); least > query.most) {
            answer.error = too_many(least);
            return answer;
        }
    }
    auto const found = reader.history(asked);
    for (std::size_t i = 0; i < found.size() && i < asked.size(); ++i) {
        HistorySeries series{asked[i].probe, {}};
        for (auto const& point : found[i].points)
            series.points.push_back({ms(point.at), point.min, point.mean, point.max, point.n, 0});
        for (auto const& spell : found[i].faults)
            answer.value.gaps.push_back(
                {asked[i].probe, ms(spell.from), ms(spell.to), spell.kind + ": " + spell.reason});
        points += series.points.size();
        if (!series.points.empty() || !query.probes.empty()) answer.value.series.push_back(std::move(series));
    }
    if (points > query.most) answer.error = too_many(points);
    for (auto const& event : reader.events(window(query.span)))
        answer.value.events.push_back({ms(event.at), event.name, event.subject, event.text, event.numbers});
    auto const known = reader.events(window({query.span.from, query.span.to + learnt_within}), "gap");
    for (auto& gap : outages(known, answer.value, query)) answer.value.gaps.push_back(std::move(gap));
    if (!reader.failure().empty()) answer.error = reader.failure();
    return answer;
}

Answer<std::vector<PastAlarm>> past_alarms(logbook::Reader& reader, TimeSpan span) {
    Answer<std::vector<PastAlarm>> answer;
    std::map<std::int64_t, PastAlarm> by_id;
    for (auto const& row : reader.alarms(window(span))) {
        auto& alarm = by_id[row.alarm];
        if (alarm.id == 0) {
            alarm.id = row.alarm;
            alarm.raised = ms(row.at);
            alarm.priority = priority_from(row.priority);
        }
        alarm.alarm = row.name;
        alarm.subject = row.subject;
        alarm.priority = std::max(alarm.priority, priority_from(row.priority));
        if (row.active || alarm.text.empty()) alarm.text = row.text;
        alarm.worst = row.worst;
        if (row.transition == "acknowledged") {
            alarm.acknowledged = ms(row.at);
            alarm.acknowledged_by = row.by;
        }
        if (row.transition == "cleared") alarm.cleared = ms(row.at);
        if (row.transition == "raised") alarm.cleared.reset();  // it came back under the same number
    }
    for (auto& [id, alarm] : by_id) answer.value.push_back(std::move(alarm));
    std::ranges::sort(answer.value, std::greater{}, &PastAlarm::raised);
    answer.error = reader.failure();
    return answer;
}

Answer<PastNotices> past_notices(logbook::Reader& reader, TimeSpan span) {
    Answer<PastNotices> answer;
    for (auto const& row : reader.notices(window(span))) {
        auto const body = notice_from_json(row.body).value_or(Notice{});
        PastNotice notice{row.id,       row.channel,
                          row.kind,     body.alarm,
                          body.subject, body.priority,
                          body.text,    row.state == "sent" ? "delivered" : row.state,
                          ms(row.at),   {}};
        for (auto const& tried : row.tries)
            notice.attempts.push_back({ms(tried.at), tried.outcome, tried.reason});
        answer.value.notices.push_back(std::move(notice));
    }
    std::ranges::reverse(answer.value.notices);
    for (auto const& [channel, at] : reader.last_delivered())
        answer.value.last_delivered.emplace_back(channel, ms(at));
    answer.error = reader.failure();
    return answer;
}

Answer<std::vector<PastCook>> past_cooks(logbook::Reader& reader, TimeSpan span) {
    Answer<std::vector<PastCook>> answer;
    std::vector<logbook::CookRow> found;
    for (auto& row : reader.cooks())
        if (ms(row.began) < span.to && (!row.ended || ms(*row.ended) >= span.from))
            found.push_back(std::move(row));
    if (found.empty()) {
        answer.error = reader.failure();
        return answer;
    }
    auto whole = reader.window_of(found.front());
    for (auto const& row : found) {
        auto const one = reader.window_of(row);
        whole = {std::min(whole.from, one.from), std::max(whole.to, one.to)};
    }
    logbook::CookPlaces places(reader, whole);
    for (auto const& row : found) {
        PastCook cook{row.id, row.dish, row.food, row.plan, ms(row.began), {}, row.taken_back};
        if (row.ended) cook.ended = ms(*row.ended);
        if (auto const with = places.read_with(row))
            cook.read_with = PastReadWith{past_places(with->cores), past_places(with->vessels)};
        answer.value.push_back(std::move(cook));
    }
    answer.error = reader.failure();
    return answer;
}

PastReadings past_readings(logbook::Reader& reader, std::vector<std::string> const& probes,
                           logbook::Window window, std::int64_t offset_ms) {
    constexpr Span apart{10'000}, longest = std::chrono::hours(12);
    window.from = std::max(window.from, window.to - longest);
    std::vector<logbook::HistoryQuery> asked;
    for (auto const& name : probes) asked.push_back({name, window, apart});
    PastReadings out;
    auto const found = reader.history(asked);
    for (std::size_t i = 0; i < found.size(); ++i)
        for (auto const& point : found[i].points)
            out.value.push_back(
                {static_cast<int>(i), Instant(Span(ms(point.at) - offset_ms)), point.mean, point.doubtful});
    std::ranges::stable_sort(out.value, {}, &PastReading::at);
    return out;
}

}  // namespace ingle
