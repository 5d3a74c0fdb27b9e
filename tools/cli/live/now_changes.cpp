// What is new from one view of the kitchen to the next: for a screen reader, a pipe or a file.
#include <algorithm>
#include <map>

#include "config/civil_time/iso_time.hpp"
#include "tools/cli/live/now_text.hpp"
#include "tools/cli/live/view_parts.hpp"
#include "tools/cli/time/local_time.hpp"

namespace ingle::cli {
namespace {

// What a line says, by what it is about; a value that moves is no part of what makes it new.
struct Told {
    std::string state, line;
};
using Things = std::map<std::string, Told>;

std::string value_words(Json const& item, TemperatureUnit unit) {
    auto const [value, age] = value_and_age(item, 0, unit);
    auto const why = why_no_value(item);
    return why.empty() ? value : why;
}

Things things_of(Json const& now) {
    Things things;
    if (!now.is_object()) return things;
    auto const unit = unit_of(now);
    for (auto const& alarm : list(now, "alarms")) {
        auto const id = std::to_string(static_cast<long>(number(alarm, "id").value_or(0)));
        auto const state = alarm_state_words(word(alarm, "state")), priority = word(alarm, "priority");
        things["alarm #" + id] = {state + priority, priority + " " + word(alarm, "alarm") + " " +
                                                        word(alarm, "subject") + ", " + state + ": " +
                                                        word(alarm, "text")};
    }
    for (auto const& vessel : list(now, "vessels")) {
        auto const phase = word(vessel, "phase"), value = value_words(vessel, unit);
        auto const state = phase + why_no_value(vessel);
        things[word(vessel, "name")] = {state, (phase.empty() ? "" : phase + ", ") + value};
    }
    for (auto const& dish : list(now, "dishes")) {
        bool const begun = dish.value("begun", false);
        auto const core = dish.value("core", Json::object());
        auto const why = begun && !word(core, "probe").empty() ? why_no_value(core) : "";
        auto const line = !begun ? "not begun" : dish_state_text(dish, 0, unit, now);
        things[word(dish, "name")] = {(begun ? word(dish, "stage") + "." : "") + why,
                                      line + (why.empty() ? "" : ", " + why)};
    }
    for (auto const& timer : list(now, "timers")) {
        auto const id = std::to_string(static_cast<long>(number(timer, "timer").value_or(0)));
        bool const over = timer.value("over", false);
        things["timer " + id] = {over ? "over" : "", (over ? "over: " : "set: ") + word(timer, "text")};
    }
    auto const& daemon = now.value("daemon", Json::object());
    bool const recording = daemon.value("recording", false);
    things["logbook"] = {recording ? "" : "not", recording ? "recording" : "not recording"};
    return things;
}

}  // namespace

std::string now_changes(Json const& before, Json const& now) {
    auto const old = things_of(before), fresh = things_of(now);
    auto const at = parse_iso_time(word(now, "at"));
    auto const clock = at ? time_text(*at, false) + "  " : "";
    std::string out;
    for (auto const& [name, told] : fresh)
        if (auto const known = old.find(name); known == old.end() || known->second.state != told.state)
            out += clock + name + ": " + told.line + "\n";
    for (auto const& [name, told] : old)
        if (!fresh.contains(name)) out += clock + name + ": ended\n";
    return out;
}

}  // namespace ingle::cli
