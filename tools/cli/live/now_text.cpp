#include "tools/cli/live/now_text.hpp"
#include "tools/cli/time/local_time.hpp"

#include <set>

namespace ingle::cli {
namespace {

std::optional<double> number(Json const& json, char const* key) {
    auto const found = json.find(key);
    if (found == json.end() || !found->is_number()) return {};
    return found->get<double>();
}

std::string word(Json const& json, char const* key, std::string otherwise = "") {
    auto const found = json.find(key);
    if (found == json.end() || !found->is_string()) return otherwise;
    return found->get<std::string>();
}

Json list(Json const& json, char const* key) {
    auto const found = json.find(key);
    return found != json.end() && found->is_array() ? *found : Json::array();
}

// What a probe, a vessel's medium or a core shows: the value and its age; an old value is in brackets.
std::pair<std::string, std::string> value_and_age(Json const& item, double older_s, TemperatureUnit unit) {
    if (auto const celsius = number(item, "celsius")) {
        auto const age = number(item, "age_s").value_or(0) + older_s;
        auto text = temperature_text(celsius, unit);
        // Once the daemon stopped answering, what it said last is history.
        if (older_s > 5) text = "(" + text + ")";
        return {text, age_text(age)};
    }
    auto const last = item.find("last");
    if (last != item.end() && last->is_object()) {
        return {"(" + temperature_text(number(*last, "celsius"), unit) + ")",
                age_text(number(*last, "age_s").value_or(0) + older_s)};
    }
    return {"-", ""};
}

std::string why_no_value(Json const& item) {
    return number(item, "celsius") ? "" : "no value: " + word(item, "reason", "the daemon gives no reason");
}

// "leaving-band" of a forecast in words.
std::string forecast_text(Json const& forecast, double older_s) {
    if (!forecast.is_object()) return "";
    auto const what = word(forecast, "what");
    auto const why = word(forecast, "why");
    auto const eta = number(forecast, "eta_s");
    std::string const subject = what == "leaving-band"  ? "leaves its band"
                                : what == "boiling"     ? "boils"
                                : what == "core-target" ? "the core is at its target"
                                : what == "cooling"     ? "is cold enough"
                                                        : what;
    if (!eta) return why.empty() ? "" : subject + ": cannot be told, " + why;
    auto const old = number(forecast, "age_s").value_or(0) + older_s;
    auto const less = [&](std::optional<double> s) { return s ? std::optional(std::max(0.0, *s - old)) : s; };
    auto text = subject + " " +
                ahead_text(std::max(0.0, *eta - old), less(number(forecast, "low_s")),
                           less(number(forecast, "high_s")));
    return why.empty() ? text : text + "; " + why;
}

void add_line(std::string& out, std::string const& text, std::size_t width) {
    if (!text.empty()) out += wrapped(text, width, "      ") + "\n";
}

std::string vessels_text(Json const& now, double older_s, TemperatureUnit unit, std::size_t width) {
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
        auto const slope = number(vessel, "slope_k_per_min");
        table.row({word(vessel, "name"), value, age, band_words, phase == "no band" ? "" : phase,
                   slope ? slope_text(*slope, unit) : ""});
        std::string detail;
        add_line(detail, why_no_value(vessel), width);
        auto const forecast = vessel.value("forecast", Json());
        // What has left its band needs no forecast of leaving it.
        bool const outside = phase == "above band" || phase == "below band";
        bool const told = forecast.is_object() && outside && word(forecast, "what") == "leaving-band";
        auto ahead = told ? "" : forecast_text(forecast, older_s);
        auto const advice = word(vessel, "advice");
        if (!advice.empty()) ahead += (ahead.empty() ? "" : ": ") + advice;
        add_line(detail, ahead, width);
        details.push_back(detail);
    }
    table.right(1);
    table.right(2);
    // The details go between the aligned rows.
    std::string out, rows = table.text();
    for (auto const& detail : details) {
        auto const end = rows.find('\n') + 1;
        out += rows.substr(0, end) + detail;
        rows.erase(0, end);
    }
    return out;
}

std::string verdicts_text(Json const& dish, std::size_t width, bool brief) {
    std::string out, line;
    for (auto const& verdict : list(dish, "verdicts")) {
        auto const answer = word(verdict, "rule") + ": " + word(verdict, "answer");
        line += (line.empty() ? "" : "; ") + answer;
        if (!brief)
            add_line(out, answer + ". " + word(verdict, "text") + " [" + word(verdict, "source") + "]",
                     width);
    }
    if (brief && !line.empty()) add_line(out, line + ". Rules and sources: ingle now.", width);
    return out;
}

std::string dishes_text(Json const& now, double older_s, TemperatureUnit unit, std::size_t width,
                        bool brief) {
    std::string out, caution;  // the same for all, said once
    for (auto const& dish : list(now, "dishes")) {
        bool const begun = dish.value("begun", false);
        auto line = "  " + word(dish, "name");
        auto const vessel = word(dish, "vessel");
        if (!vessel.empty()) line += " in " + vessel;
        if (!begun) {
            out += line + ": not begun\n";
            continue;
        }
        auto const stage = word(dish, "stage");
        if (!stage.empty()) {
            line += ": " + stage;
            if (auto const age = number(dish, "stage_age_s")) line += " for " + length_text(*age + older_s);
            if (auto const left = number(dish, "stage_left_s")) {
                auto const clock = word(dish, "stage_clock");
                bool const counts = clock == "counts";
                line += ", " + length_text(std::max(0.0, *left - (counts ? older_s : 0))) + " left";
                if (!counts) line += " (" + clock + ")";
            }
        }
        auto const core = dish.value("core", Json::object());
        if (!word(core, "probe").empty()) {
            auto const [value, age] = value_and_age(core, older_s, unit);
            line += ", core " + value + (age.empty() ? "" : " " + age);
        }
        if (auto const target = number(dish, "target_c"))
            line += ", target " + temperature_text(target, unit);
        out += line + "\n";
        if (!word(core, "probe").empty()) add_line(out, why_no_value(core), width);
        add_line(out, forecast_text(dish.value("forecast", Json()), older_s), width);
        out += verdicts_text(dish, width, brief);
        if (!word(dish, "caution").empty()) caution = word(dish, "caution");
    }
    if (!caution.empty()) out += wrapped(caution, width, "  ") + "\n";
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

std::string head_line(Json const& now) {
    auto line = word(now, "kitchen", "kitchen");
    auto const at = wall_from_json(word(now, "at"));
    line += at ? ", " + time_text(*at) : ", the time is not known yet";
    return line;
}

std::string daemon_text(Json const& daemon) {
    std::string text;
    auto const trouble = word(daemon, "recording_trouble");
    if (!daemon.value("recording", false)) {
        text += "  not recording: " + (trouble.empty() ? "the logbook is not open" : trouble) + "\n";
    }
    auto const pending = number(daemon, "notices_pending").value_or(0);
    if (pending > 0)
        text += "  notices not delivered yet: " + std::to_string(static_cast<long>(pending)) + "\n";
    for (auto const& channel : list(daemon, "channels")) {
        auto const why = word(channel, "trouble");
        if (!why.empty()) text += "  channel " + word(channel, "name") + ": " + why + "\n";
    }
    return text;
}

}  // namespace

TemperatureUnit unit_of(Json const& now) {
    return word(now, "units") == "degF" ? TemperatureUnit::fahrenheit : TemperatureUnit::celsius;
}

std::string alarms_text(Json const& alarms, double older_s, Terminal const& terminal) {
    std::string out;
    for (auto const& alarm : alarms) {
        auto state = word(alarm, "state");
        for (auto& c : state)
            if (c == '_') c = '-';
        auto line = std::string("  #") + std::to_string(static_cast<long>(number(alarm, "id").value_or(0))) +
                    " " + word(alarm, "priority") + "  " + word(alarm, "alarm") + "  " +
                    word(alarm, "subject") + "  ";
        // Covered by a cause that stands here too: one quiet line.
        if (state == "suppressed-by-design") {
            out += line + "suppressed by " + word(alarm, "muted_by") + "\n";
            continue;
        }
        line += state;
        auto const age = number(alarm, "age_s").value_or(0) + older_s;
        if (alarm.value("active", true)) {
            line += ", for " + length_text(age);
        } else {
            auto const over = number(alarm, "cleared_age_s");
            line += over ? ", lasted " + length_text(std::max(0.0, age - *over - older_s)) + ", over for " +
                               length_text(*over + older_s)
                         : ", over";
        }
        if (auto const left = number(alarm, "shelved_for_s")) {
            line += ", silent for another " + length_text(std::max(0.0, *left - older_s));
        }
        auto const by = word(alarm, "acknowledged_by");
        if (!by.empty()) line += ", seen by " + by;
        out += (word(alarm, "priority") == "high" ? terminal.strong(line) : line) + "\n";
        add_line(out, word(alarm, "text"), terminal.width);
    }
    return out;
}

std::string timers_text(Json const& timers, double older_s) {
    std::string out;
    for (auto const& timer : timers) {
        auto const left = std::max(0.0, number(timer, "left_s").value_or(0) - older_s);
        out += "  " + std::to_string(static_cast<long>(number(timer, "timer").value_or(0))) + "  " +
               (timer.value("over", false) ? std::string("over") : length_text(left) + " left") + " of " +
               length_text(number(timer, "length_s").value_or(0));
        if (auto const text = word(timer, "text"); !text.empty()) out += ": " + text;
        out += "\n";
    }
    return out;
}

std::string now_text(Json const& now, double older_s, Terminal const& terminal, bool brief) {
    auto const unit = unit_of(now);
    std::string out = terminal.strong(head_line(now)) + "\n";
    out += daemon_text(now.value("daemon", Json::object()));
    auto const section = [&](char const* title, std::string const& body) {
        if (!body.empty()) out += "\n" + terminal.strong(title) + "\n" + body;
    };
    auto const alarms = alarms_text(list(now, "alarms"), older_s, terminal);
    section("alarms", alarms.empty() ? "  none\n" : alarms);
    section("vessels", vessels_text(now, older_s, unit, terminal.width));
    section("dishes", dishes_text(now, older_s, unit, terminal.width, brief));
    section("timers", timers_text(list(now, "timers"), older_s));
    section("other probes", probes_text(now, older_s, unit));
    return out;
}

}  // namespace ingle::cli
