#include "daemon/notices/summary.hpp"

#include <algorithm>
#include <iterator>
#include <string>
#include <utility>

#include "daemon/notices/late_words.hpp"
#include "daemon/notices/newer.hpp"

namespace ingle {
namespace {

// What was to be said of one alarm; of a notice without parts, all of it.
struct Line {
    Notice notice;  // with the text, the priority and the numbers of this alarm only
    bool was_held = false, open = false;
};

std::vector<Line> lines_of(std::vector<Waited> const& waited, std::set<std::int64_t> const* open) {
    std::vector<Line> lines;
    auto const add = [&](Notice one, bool was_held) {
        bool const is_open =
            open && one.kind != "cleared" &&
            std::ranges::any_of(one.link_alarms, [&](auto id) { return open->contains(id); });
        lines.push_back({std::move(one), was_held, is_open});
    };
    for (auto const& [notice, was_held] : waited) {
        if (notice->parts.empty()) add(*notice, was_held);
        for (auto const& part : notice->parts) {
            Notice one = *notice;
            one.alarm = part.alarm;
            one.subject = part.subject;
            one.priority = part.priority;
            one.since = part.since;
            one.text = part.text;
            one.link_alarms = {part.number};
            add(std::move(one), was_held);
        }
    }
    std::vector<Line> kept;
    for (auto line = lines.begin(); line != lines.end(); ++line)
        if (std::none_of(std::next(line), lines.end(), [&](Line const& newer) {
                return newer_word(newer.notice, line->notice) == Newer::in_its_place;
            }))
            kept.push_back(*line);
    std::ranges::stable_sort(kept, {}, [](Line const& line) { return level_of(line.notice.priority); });
    return kept;
}

std::string listed(std::vector<Line> const& lines, bool open, std::string_view today) {
    std::string text;
    for (auto const& line : lines)
        if (line.open == open) text += "\n" + time_of(line.notice, today) + "  " + line.notice.text;
    return text;
}

}  // namespace

Notice summary_of(std::vector<Waited> const& waited, std::set<std::int64_t> const* open,
                  std::string_view today) {
    auto const lines = lines_of(waited, open);
    auto const gravest = open ? std::ranges::find_if(lines, &Line::open) : lines.begin();
    auto const& first = gravest == lines.end() ? lines.front() : *gravest;
    auto const held_back = std::ranges::count_if(lines, &Line::was_held);
    bool const all_held = held_back == std::ssize(lines);
    // The same notices again, after a kill, are the same message; others are another one.
    std::string of;
    for (auto const& one : waited) of += " " + one.notice->id;
    Notice all = *waited.back().notice;
    all.id += '+' + fingerprint(of);
    all.kind = "summary";
    all.alarm = first.notice.alarm;
    all.subject = first.notice.subject;
    all.since = first.notice.since;
    all.priority = lines.front().notice.priority;
    all.late = true;
    all.single = false;
    all.parts.clear();
    all.chart.reset();
    // What is over needs no answer; where that is not known yet, a link tells it when it is used, and a
    // button that stays would not.
    std::set<std::int64_t> ids;
    for (auto const& line : lines)
        if (open ? line.open : line.notice.kind == "raised" || line.notice.kind == "reminder")
            for (auto const id : line.notice.link_alarms)
                if (!open || open->contains(id)) ids.insert(id);
    all.link_alarms.assign(ids.begin(), ids.end());
    all.alarms = open ? all.link_alarms : std::vector<std::int64_t>();
    auto still = listed(lines, true, today), over = listed(lines, false, today);
    if (open && !still.empty()) still = "\nStill open:" + still;
    if (open && !over.empty()) over = "\nOver by now, or covered by what is open:" + over;
    // A lock screen shows the first words only: they are of the gravest that is open.
    all.text = (gravest == lines.end() ? "Over by now. " : "") + late_words(first.notice, today, all_held) +
               "\n" + std::to_string(lines.size()) + (lines.size() == 1 ? " notice, " : " notices, ") +
               (held_back == 0 ? "late: they could not be delivered before"
                : all_held     ? "held back by this channel's quiet hours or its limit"
                               : "held back by this channel's quiet hours or its limit, or not delivered "
                                 "before") +
               ". What they said, with the time of each:" + still + over;
    return all;
}

bool is_partly_over(Notice const& notice, std::set<std::int64_t> const& open) {
    return std::ranges::any_of(notice.parts,
                               [&](NoticePart const& part) { return !open.contains(part.number); });
}

}  // namespace ingle
