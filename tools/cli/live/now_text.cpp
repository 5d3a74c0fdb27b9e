#include "tools/cli/live/now_text.hpp"

#include <algorithm>
#include <array>
#include <set>

#include "config/civil_time/iso_time.hpp"
#include "tools/cli/live/view_parts.hpp"
#include "tools/cli/time/local_time.hpp"

namespace ingle::cli {
namespace {

constexpr std::size_t least_height = 8;  // a terminal of fewer lines is scrolled, not fitted

// How much a page tells, where a terminal has no room for all of it.
struct Room {
    std::size_t alarm_texts = std::string::npos;  // alarms with their sentence, the most urgent first
    bool muted = true;                            // a line for each alarm that another one explains
    bool forecasts = true;                        // of vessels and dishes
    bool caution = true;
    bool tight = false;  // no empty lines; nothing of a vessel in its band but its value
};
constexpr std::array<Room, 6> rooms{Room{},
                                    {3, false, true, true},
                                    {1, false, true, false},
                                    {1, false, false, false},
                                    {1, false, false, false, true},
                                    {0, false, false, false, true}};

constexpr std::size_t whole_row = 78;  // columns for a vessel with its band and trend in one line

// The first line as it is, what does not fit below it, indented.
std::string hanging(std::string const& text, std::size_t width) {
    auto const indent = text.find_first_not_of(' ');
    auto rest = wrapped(text.substr(indent), width, "      ") + "\n";
    return std::string(indent, ' ') + rest.substr(6);
}

std::string last_read(std::string const& age) {
    return age.empty() ? "" : "the last reading is " + age;
}

std::string vessels_text(Json const& now, double older_s, std::size_t width, Room const& room) {
    auto const unit = unit_of(now);
    std::vector<std::string> details;
    Table table;
    for (auto const& vessel : list(now, "vessels")) {
        auto const [value, age] = value_and_age(vessel, older_s, unit);
        auto const band = vessel.find("band");
        std::string band_words = "no band";
        if (band != vessel.end() && band->is_object()) {
            band_words =
                band_text(number(*band, "low_c").value_or(0), number(*band, "high_c").value_or(0), unit);
        }
        auto const phase = word(vessel, "phase");
        bool const outside = phase == "above band" || phase == "below band";
        auto const slope = number(vessel, "slope_k_per_min");
        auto const shown_phase = phase == "no band" ? "" : phase;
        auto const trend = slope ? slope_text(*slope, unit) : "";
        std::string detail;
        if (width >= whole_row) {
            table.row({word(vessel, "name"), value, band_words, shown_phase, trend});
        } else {
            table.row({word(vessel, "name"), value, phase, room.tight ? trend : ""});
            if (!room.tight || outside)
                add_line(detail, band_words + (trend.empty() ? "" : ", " + trend), width);
        }
        auto const why = why_no_value(vessel);
        auto const old = why.find("the last reading is") == std::string::npos ? last_read(age) : "";
        add_line(detail, why + (why.empty() || old.empty() ? "" : "; ") + old, width);
        auto const forecast = vessel.value("forecast", Json());
        // What has left its band needs no forecast of leaving it.
        bool const told = forecast.is_object() && outside && word(forecast, "what") == "leaving-band";
        auto ahead = told ? "" : forecast_text(forecast, older_s, now);
        auto const advice = word(vessel, "advice");
        if (!advice.empty()) ahead += (ahead.empty() ? "" : ": ") + advice;
        if (room.forecasts) add_line(detail, ahead, width);
        details.push_back(detail);
    }
    table.right(1);
    // The details go between the aligned rows.
    std::string out, rows = table.text();
    for (auto const& detail : details) {
        auto const end = rows.find('\n') + 1;
        out += rows.substr(0, end) + detail;
        rows.erase(0, end);
    }
    return out;
}

// What of the food must be known at a glance: what is surely wrong, and a core that has reached what is
// asked.
void add_food(std::string& out, Json const& dish, std::size_t width) {
    for (auto const& verdict : list(dish, "verdicts")) {
        auto const rule = word(verdict, "rule"), answer = word(verdict, "answer");
        bool const wrong = answer.starts_with("missed") || answer == "not reached";
        if (wrong && rule != "in short")
            add_line(out, rule + ": " + answer + ". " + word(verdict, "text"), width);
        if (rule == "core-target" && answer == "met") add_line(out, "core-target: met", width);
    }
}

bool knows_the_past(Json const& daemon) {
    return daemon.value("past_known", true);
}

std::string dishes_text(Json const& now, double older_s, std::size_t width, Room const& room) {
    auto const unit = unit_of(now);
    std::string out, caution;  // the same for all, said once
    bool const known = knows_the_past(now.value("daemon", Json::object()));
    for (auto const& dish : list(now, "dishes")) {
        auto const name = "  " + word(dish, "name");
        if (!dish.value("begun", false)) {
            out += name + (known ? ": not begun\n" : ": whether it cooks is not known yet\n");
            continue;
        }
        out += hanging(name + ": " + dish_state_text(dish, older_s, unit, now), width);
        add_line(out, word(dish, "stage_counted_by"), width);
        auto const core = dish.value("core", Json::object());
        if (!word(core, "probe").empty()) add_line(out, why_no_value(core), width);
        if (room.forecasts) add_line(out, forecast_text(dish.value("forecast", Json()), older_s, now), width);
        add_food(out, dish, width);
        if (!word(dish, "caution").empty()) caution = word(dish, "caution");
    }
    if (!caution.empty() && room.caution)
        out += wrapped(caution + " All rules of a dish: ingle now DISH.", width, "  ") + "\n";
    return out;
}

// Probes that no vessel and no dish has shown yet, and every probe with trouble.
std::string probes_text(Json const& now, double older_s, TemperatureUnit unit) {
    std::set<std::string> shown;
    for (auto const& vessel : list(now, "vessels")) shown.insert(word(vessel, "probe"));
    for (auto const& dish : list(now, "dishes")) {
        if (dish.value("begun", false)) shown.insert(word(dish.value("core", Json::object()), "probe"));
    }
    Table table;
    for (auto const& probe : list(now, "probes")) {
        auto const trouble = word(probe, "trouble");
        if (shown.contains(word(probe, "name")) && trouble.empty()) continue;
        auto const [value, age] = value_and_age(probe, older_s, unit);
        table.row({word(probe, "name"), value, age, trouble.empty() ? why_no_value(probe) : trouble});
    }
    table.right(1);
    table.right(2);
    return table.text();
}

// What nobody has seen yet, the highest first; then what stands and was seen; what is covered or silenced
// last.
Json most_urgent_first(Json alarms) {
    auto const rank = [](Json const& alarm) {
        auto const state = word(alarm, "state"), priority = word(alarm, "priority");
        int const seen = state == "unacknowledged" || state == "returned-unacknowledged" ? 0
                         : state == "suppressed-by-design" || state == "shelved"         ? 2
                                                                                         : 1;
        return seen * 3 + (priority == "high" ? 0 : priority == "medium" ? 1 : 2);
    };
    std::stable_sort(alarms.begin(), alarms.end(),
                     [&](Json const& a, Json const& b) { return rank(a) < rank(b); });
    return alarms;
}

// `explained`: what silences it stands in the same list: one quiet line.
std::string alarm_line(Json const& alarm, double older_s, bool tight, bool explained) {
    auto const state = word(alarm, "state");
    auto line = "#" + std::to_string(static_cast<long>(number(alarm, "id").value_or(0))) + " " +
                word(alarm, "priority") + "  " + word(alarm, "alarm") + "  " + word(alarm, "subject") + "  ";
    if (state == "suppressed-by-design")
        return line + (explained ? "muted by " + word(alarm, "muted_by") : "");
    auto const age = number(alarm, "age_s").value_or(0) + older_s;
    if (tight && state == "unacknowledged") return line + "for " + length_text(age);
    line += alarm_state_words(state);
    if (tight) return line;
    if (alarm.value("active", true)) {
        line += ", for " + length_text(age);
    } else if (auto const over = number(alarm, "cleared_age_s")) {
        line += ", lasted " + length_text(std::max(0.0, age - *over - older_s)) + ", ended " +
                length_text(*over + older_s) + " ago";
    }
    if (auto const left = number(alarm, "shelved_for_s"))
        line += ", silent for another " + length_text(std::max(0.0, *left - older_s));
    if (auto const by = word(alarm, "acknowledged_by"); !by.empty()) line += ", acknowledged by " + by;
    return line;
}

std::string alarms_text(Json const& alarms, double older_s, Terminal const& terminal, Room const& room) {
    std::string out;
    std::size_t muted = 0, texts = 0;
    for (auto const& alarm : alarms) {
        auto const state = word(alarm, "state");
        bool const covered = state == "suppressed-by-design";
        if (covered && !room.muted && ++muted > 0) continue;
        bool const explained = std::ranges::any_of(alarms, [&](Json const& other) {
            return word(other, "alarm") == word(alarm, "muted_by") && other.value("active", true);
        });
        auto line = hanging("  " + alarm_line(alarm, older_s, room.tight, explained), terminal.width);
        line.pop_back();
        bool const high = word(alarm, "priority") == "high" && !covered;
        out += (high                        ? terminal.alert(line)
                : state == "unacknowledged" ? terminal.strong(line)
                                            : line) +
               "\n";
        if (covered ? !explained : ++texts <= room.alarm_texts)
            add_line(out, word(alarm, "text"), terminal.width);
    }
    if (muted > 0) out += "  and " + std::to_string(muted) + " that these explain: ingle alarms\n";
    return out;
}

std::size_t lines_of(std::string const& page) {
    return static_cast<std::size_t>(std::ranges::count(page, '\n'));
}

// A terminal keeps the end of what is longer than it, and the beginning is what matters.
std::string cut_to(std::string page, std::size_t height) {
    auto const lines = lines_of(page);
    if (height < least_height || lines < height) return page;
    std::size_t end = 0;
    for (std::size_t line = 0; line + 2 < height; ++line) end = page.find('\n', end) + 1;
    return page.substr(0, end) + "  and " + std::to_string(lines + 2 - height) +
           " lines more: ingle now | less\n";
}

std::string head_line(Json const& now) {
    auto line = word(now, "kitchen", "kitchen");
    auto const at = parse_iso_time(word(now, "at"));
    line += at ? ", " + time_text(*at) : ", the time is not known yet";
    return line;
}

std::string daemon_text(Json const& daemon, std::size_t width) {
    std::string text;
    auto const say = [&](std::string const& line) { text += hanging("  " + line, width); };
    auto const trouble = word(daemon, "recording_trouble");
    if (!daemon.value("recording", false))
        say("not recording: " + (trouble.empty() ? "the logbook is not open" : trouble));
    if (!knows_the_past(daemon))
        say("the logbook has not been read yet: what cooks, what is held and what was told before this "
            "start is not known");
    if (auto const pending = number(daemon, "notices_pending").value_or(0); pending > 0)
        say("notices that wait: " + std::to_string(static_cast<long>(pending)) +
            "; `ingle notices` says why");
    for (auto const& channel : list(daemon, "channels"))
        if (auto const why = word(channel, "trouble"); !why.empty())
            say("channel " + word(channel, "name") + ": " + why);
    return text;
}

std::string page_with(Room const& room, Json const& now, double older_s, Terminal const& terminal) {
    std::string out = terminal.strong(head_line(now)) + "\n";
    out += daemon_text(now.value("daemon", Json::object()), terminal.width);
    auto const alarms = alarms_text(most_urgent_first(list(now, "alarms")), older_s, terminal, room);
    bool const known = knows_the_past(now.value("daemon", Json::object()));
    out += !alarms.empty() ? alarms : known ? "  no alarms\n" : "  no alarms since this start\n";
    auto const part = [&](std::string const& body) {
        if (!body.empty()) out += (room.tight ? "" : "\n") + body;
    };
    part(vessels_text(now, older_s, terminal.width, room));
    part(dishes_text(now, older_s, terminal.width, room));
    auto const timers = timers_text(list(now, "timers"), older_s);
    if (!timers.empty()) part("timers\n" + timers);
    auto const reminders = reminders_text(list(now, "reminders"), older_s);
    if (!reminders.empty()) part("reminders\n" + reminders);
    auto const probes = probes_text(now, older_s, unit_of(now));
    if (!probes.empty()) part("other probes\n" + probes);
    return out;
}

}  // namespace

std::string alarm_state_words(std::string const& state) {
    return state == "unacknowledged"            ? "not acknowledged"
           : state == "returned-unacknowledged" ? "ended, not acknowledged"
           : state == "suppressed-by-design"    ? "muted"
           : state == "out-of-service"          ? "out of service"
                                                : state;
}

TemperatureUnit unit_of(Json const& now) {
    return word(now, "units") == "degF" ? TemperatureUnit::fahrenheit : TemperatureUnit::celsius;
}

std::string alarms_text(Json const& alarms, double older_s, Terminal const& terminal) {
    return alarms_text(alarms, older_s, terminal, {});
}

std::string timers_text(Json const& timers, double older_s) {
    std::string out;
    for (auto const& timer : timers) {
        auto const left = std::max(0.0, number(timer, "left_s").value_or(0) - older_s);
        out += "  " + std::to_string(static_cast<long>(number(timer, "timer").value_or(0))) + "  " +
               (timer.value("over", false) ? "over, was " : length_text(left) + " left of ") +
               length_text(number(timer, "length_s").value_or(0));
        if (auto const text = word(timer, "text"); !text.empty()) out += ": " + text;
        out += "\n";
    }
    return out;
}

std::string reminders_text(Json const& reminders, double older_s) {
    std::string out;
    for (auto const& reminder : reminders) {
        out += "  " + std::to_string(static_cast<long>(number(reminder, "reminder").value_or(0))) + "  " +
               word(reminder, "text");
        auto const left = number(reminder, "left_s");
        auto const next = parse_iso_time(word(reminder, "next"));
        if (!left || !next || !reminder.value("every_s", Json()).is_null())
            out += " (" + word(reminder, "waits_for") + ")";
        if (reminder.value("due", false)) out += ", due now";
        if (left) out += ", in " + length_text(std::max(0.0, *left - older_s));
        if (next) out += ", at " + time_text(*next, left.value_or(0) > 43'200, false);
        out += "\n";
    }
    return out;
}

std::string now_text(Json const& now, double older_s, Terminal const& terminal) {
    std::string page;
    for (auto const& room : rooms) {
        page = page_with(room, now, older_s, terminal);
        if (terminal.height < least_height || lines_of(page) < terminal.height) break;
    }
    return cut_to(std::move(page), terminal.height);
}

}  // namespace ingle::cli
