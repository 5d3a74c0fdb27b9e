#include "tools/cli/record/day_record.hpp"

#include <algorithm>
#include <map>

#include "tools/cli/program/client.hpp"
#include "tools/cli/record/day_parts.hpp"
#include "tools/cli/time/local_time.hpp"
#include "tools/cli/time/moment.hpp"

namespace ingle::cli {
namespace {

constexpr auto alarm_lookback = std::chrono::hours(24 * 7);

// What was waited for has come: nothing that had to be corrected.
bool only_tells(std::string const& alarm) {
    constexpr std::string_view names[] = {"timer-over", "reminder-due", "core-target", "stage-over",
                                          "dish-ready"};
    return std::ranges::find(names, alarm) != std::end(names);
}

bool is_act(std::string const& transition) {
    return transition == "acknowledged" || transition == "shelved" || transition == "unshelved";
}

void read_actions(Book& book, DayRecord& record) {
    auto const& day = record.day;
    std::map<std::int64_t, std::size_t> places;
    std::vector<ActionEntry> all;
    std::vector<bool> raised;
    for (auto const& row : book.reader().alarms({day.span.from - alarm_lookback, day.until})) {
        if (only_tells(row.name)) continue;
        auto const [place, added] = places.try_emplace(row.alarm, all.size());
        if (added) {
            ActionEntry entry;
            entry.alarm = row.alarm;
            entry.name = row.name;
            entry.subject = row.subject;
            entry.text = row.text;
            entry.priority = row.priority;
            entry.raised = row.at.wall;
            all.push_back(std::move(entry));
            raised.push_back(false);
        }
        auto& entry = all[place->second];
        if (row.transition == "raised") {
            if (!raised[place->second]) entry.raised = row.at.wall;
            raised[place->second] = true;
            entry.cleared.reset();
        }
        if (row.transition == "worsened") entry.priority = row.priority;
        if (entry.text.empty()) entry.text = row.text;
        if (row.transition == "cleared") entry.cleared = row.at.wall;
        // Of whom the logbook tells who acknowledged it, and nobody else.
        if (is_act(row.transition))
            entry.acts.push_back(
                {row.transition, row.transition == "acknowledged" ? row.by : "", row.at.wall});
    }
    book.check();
    for (std::size_t i = 0; i < all.size(); ++i) {
        auto const& entry = all[i];
        bool const of_today =
            !entry.cleared || *entry.cleared >= day.span.from ||
            std::ranges::any_of(entry.acts, [&](auto const& act) { return act.at >= day.span.from; });
        if (raised[i] && of_today) record.actions.push_back(entry);
    }
    std::ranges::stable_sort(record.actions, {}, &ActionEntry::raised);
}

void read_notes(Book& book, DayRecord& record) {
    for (auto const& event : book.reader().events({record.day.span.from, record.day.until}))
        if (event.name == "note" || event.name == "taken-back")
            record.notes.push_back({event.at.wall, event.subject, event.text});
    book.check();
}

void read_calibrations(Book& book, DayRecord& record) {
    auto const& day = record.day;
    for (auto const& probe : book.reader().probes()) {
        bool before = false;  // it had one
        for (auto const& row : probe.calibrations) {
            CalibrationEntry entry;
            entry.probe = probe.name;
            entry.since = row.since.wall;
            auto const points = Json::parse(row.points, nullptr, false);
            if (points.is_array())
                for (auto const& point : points)
                    if (point.is_array() && point.size() == 2 && point[0].is_number() && point[1].is_number())
                        entry.points.emplace_back(point[0].get<double>(), point[1].get<double>());
            bool const said = before || !entry.points.empty();
            before = said;
            if (said && entry.since >= day.span.from && entry.since < day.until)
                record.calibrations.push_back(std::move(entry));
        }
    }
    book.check();
    std::ranges::stable_sort(record.calibrations, {}, &CalibrationEntry::since);
}

}  // namespace

KitchenDay kitchen_day(std::string const& text, WallTime now) {
    std::string wrong;
    auto const moment = moment_of(text, now, Toward::past, wrong);
    if (!moment)
        throw Failure(wrong.empty() ? "--day: \"" + text +
                                          "\" is not a day; try \"yesterday\", \"mon\", \"nov 25\" or "
                                          "\"2026-11-28\""
                                    : "--day: " + wrong,
                      wrong_usage);
    using std::chrono::days;
    auto const day =
        moment->whole_day ? moment->day : std::chrono::floor<days>(local_zone().local(moment->at.first));
    KitchenDay out;
    out.span.from = local_zone().instants(LocalTime(day)).first;
    // A midnight that comes twice ends the day that it belongs to when the next one begins.
    out.span.to = local_zone().instants(LocalTime(day + days(1))).first;
    if (out.span.from > now)
        throw Failure("--day: \"" + text + "\" is still to come; nothing is recorded of it", wrong_usage);
    out.until = std::min(out.span.to, now);
    out.title = time_text(out.span.from).substr(0, 14);
    return out;
}

DayRecord day_record(Book& book, KitchenDay const& day) {
    DayRecord record;
    record.day = day;
    auto const settings = book.settings_at(day.until);
    record.kitchen = settings.name;
    record.units = settings.units;
    DayCooks use;
    read_cooks(book, record, use);
    read_vessels(book, settings, record, std::move(use));
    read_calibrations(book, record);
    read_actions(book, record);
    read_notes(book, record);
    return record;
}

}  // namespace ingle::cli
