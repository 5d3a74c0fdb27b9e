#include "tools/cli/live/view_parts.hpp"

#include <algorithm>
#include <string_view>

#include "config/civil_time/iso_time.hpp"
#include "tools/cli/time/local_time.hpp"

namespace ingle::cli {
namespace {

constexpr double of_this_moment_s = 10;       // a slow probe's newest reading is no older
constexpr double told_by_the_clock_s = 1800;  // nearer than that, minutes are what a cook counts

Span ahead(double s) {
    return Span(static_cast<std::int64_t>(s * 1000));
}

// "18:27"; of another day than `now` "Sat 11:14".
std::string clock_text(WallTime now, WallTime at) {
    constexpr auto day_of_week = std::string_view("Sat ").size(),
                   date = std::string_view("Sat 2026-11-28").size();
    auto const dated = time_text(at, true, false);
    bool const today = dated.substr(0, date) == time_text(now, true, false).substr(0, date);
    return (today ? "" : dated.substr(0, day_of_week)) + time_text(at, false, false);
}

}  // namespace

std::optional<double> number(Json const& json, char const* key) {
    auto const found = json.find(key);
    if (found == json.end() || !found->is_number()) return {};
    return found->get<double>();
}

std::string word(Json const& json, char const* key, std::string otherwise) {
    auto const found = json.find(key);
    if (found == json.end() || !found->is_string()) return otherwise;
    return found->get<std::string>();
}

Json list(Json const& json, char const* key) {
    auto const found = json.find(key);
    return found != json.end() && found->is_array() ? *found : Json::array();
}

std::pair<std::string, std::string> value_and_age(Json const& item, double older_s, TemperatureUnit unit) {
    if (auto const celsius = number(item, "celsius")) {
        auto const age = number(item, "age_s").value_or(0) + older_s;
        auto text = temperature_text(celsius, unit);
        // Once the daemon stopped answering, what it said last is history.
        if (older_s > 5) text = "(" + text + ")";
        return {text, age < of_this_moment_s ? "" : age_text(age)};
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

std::string forecast_text(Json const& forecast, double older_s, Json const& now) {
    if (!forecast.is_object()) return "";
    auto const what = word(forecast, "what"), why = word(forecast, "why");
    auto const eta = number(forecast, "eta_s");
    std::string const subject = what == "leaving-band"  ? "leaves its band"
                                : what == "boiling"     ? "boils"
                                : what == "core-target" ? "its core is there"
                                : what == "cooling"     ? "is cold enough"
                                                        : what;
    if (!eta) return why.empty() ? "" : subject + " when: not known (" + why + ")";
    auto const old = number(forecast, "age_s").value_or(0) + older_s;
    auto const less = [&](std::optional<double> s) { return s ? std::optional(std::max(0.0, *s - old)) : s; };
    auto const left = std::max(0.0, *eta - old);
    auto const low = less(number(forecast, "low_s")), high = less(number(forecast, "high_s"));
    auto const at = parse_iso_time(word(now, "at"));
    auto text = subject + " " + ahead_text(left, low, high);
    if (at && left > told_by_the_clock_s) {
        auto const clock = [&](double s) { return clock_text(*at, *at + ahead(s + older_s)); };
        text = subject + " about " + clock(left);
        if (low && high) text += " (" + clock(*low) + " to " + clock(*high) + ")";
        text += ", in " + length_text(left);
    }
    return why.empty() ? text : text + "; " + why;
}

std::string dish_state_text(Json const& dish, double older_s, TemperatureUnit unit, Json const& now) {
    auto const at = parse_iso_time(word(now, "at"));
    std::string line = word(dish, "stage");
    if (!line.empty()) {
        if (auto const left = number(dish, "stage_left_s")) {
            auto const clock = word(dish, "stage_clock");
            bool const counts = clock == "counts";
            if (counts && *left <= 0)
                line += ": its time is over, its core is not done yet";
            else
                line += ", " + length_text(std::max(0.0, *left - (counts ? older_s : 0))) + " left";
            if (!counts) line += " (" + clock + ")";
            if (counts && *left > 0 && at && !number(dish, "target_c"))
                line += ", until " + clock_text(*at, *at + ahead(*left));
        } else if (auto const clock = word(dish, "stage_clock"); clock.starts_with("over")) {
            line += " is " + clock;
        } else if (auto const age = number(dish, "stage_age_s")) {
            line += " for " + length_text(*age + older_s);
        }
    }
    auto const core = dish.value("core", Json::object());
    if (!word(core, "probe").empty()) {
        auto const [value, age] = value_and_age(core, older_s, unit);
        line += (line.empty() ? "core " : ", core ") + value + (age.empty() ? "" : " " + age);
    }
    if (auto const target = number(dish, "target_c")) line += ", target " + temperature_text(target, unit);
    return line;
}

void add_line(std::string& out, std::string const& text, std::size_t width) {
    if (!text.empty()) out += wrapped(text, width, "      ") + "\n";
}

}  // namespace ingle::cli
