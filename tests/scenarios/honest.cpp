#include "tests/scenarios/honest.hpp"

#include <algorithm>
#include <cmath>
#include <cstdlib>
#include <string_view>

#include "daemon/conditioning/job.hpp"

namespace ingle::scenarios {
namespace {

constexpr double newest_s = 30, kept_s = 3600, allowed_k = 1.0 + 0.051;  // a text has one decimal
constexpr std::size_t least_readings = 3, held_readings = 5;
// Words of the present in front of a temperature. What is told of the past or of a limit has others.
constexpr std::string_view present[] = {" is at ", " boils at ", " stands at ", " stands still at ",
                                        " reads "};
constexpr std::pair<std::string_view, int> forecasts[] = {
    {" boils in about ", 1}, {" is about to boil", 1}, {") at the top ", 1}, {") at the bottom ", -1}};
// Then the sentence is about another time, and says so.
constexpr std::string_view not_now[] = {"that was the last word", "No longer so",  "no longer",
                                        "what was told before",   "What was told", "What was found last"};

bool is_of_the_past(std::string const& said) {
    return std::ranges::any_of(not_now, [&](auto word) { return said.find(word) != std::string::npos; });
}

// By how much the readings have moved over the newest 30 s or three of them, of the first `count`.
double travelled(std::deque<std::pair<double, double>> const& readings, std::size_t count,
                 std::size_t least = least_readings) {
    auto const end = readings.begin() + static_cast<std::ptrdiff_t>(count);
    double const newest = (end - 1)->first;
    auto first = end - static_cast<std::ptrdiff_t>(std::min(count, least));
    while (first != readings.begin() && (first - 1)->first >= newest - newest_s) --first;
    auto const middle = [](auto from, auto to) {  // the median: a spike has not moved anything
        std::vector<double> values;
        for (auto r = from; r != to; ++r) values.push_back(r->second);
        std::ranges::sort(values);
        return values[values.size() / 2];
    };
    auto const third = end - first < 6 ? 1 : std::max<std::ptrdiff_t>(3, (end - first) / 3);
    return middle(end - third, end) - middle(first, first + third);
}

}  // namespace

Honest::Honest(Settings const& settings) : settings_(settings), readings_(settings.probes.size()) {}

void Honest::read(int probe, double at_s, double celsius) {
    auto const [low, high] = plausible_range(job_of(settings_, probe));
    if (celsius < low || celsius > high) return;  // a fault of the probe, not a level of anything
    auto& readings = readings_[static_cast<std::size_t>(probe)];
    readings.emplace_back(at_s, celsius);
    while (readings.size() > least_readings && readings.front().first < at_s - kept_s) readings.pop_front();
}

std::vector<int> Honest::probes_of(Subject subject) const {
    auto const n = static_cast<std::size_t>(subject.number);
    if (subject.kind == SubjectKind::probe) return {subject.number};
    if (subject.kind == SubjectKind::vessel) {
        std::vector<int> probes = settings_.vessels[n].more;
        probes.push_back(settings_.vessels[n].medium);
        for (auto const& dish : settings_.dishes)
            if (dish.core >= 0) probes.push_back(dish.core);
        return probes;
    }
    if (subject.kind == SubjectKind::dish && settings_.dishes[n].core >= 0)
        return {settings_.dishes[n].core,
                settings_.vessels[static_cast<std::size_t>(settings_.dishes[n].vessel)].medium};
    return {};
}

void Honest::level(double at_s, Subject subject, double celsius, std::string const& said) {
    double low = 1e9, high = -1e9;
    bool near = false;
    for (int const probe : probes_of(subject)) {
        if (probe < 0) continue;
        auto const& readings = readings_[static_cast<std::size_t>(probe)];
        if (readings.empty()) continue;
        double probe_low = 1e9, probe_high = -1e9;
        double const newest = readings.back().first;
        std::size_t seen = 0;
        for (auto r = readings.rbegin(); r != readings.rend(); ++r, ++seen) {
            if (r->first < newest - newest_s && seen >= least_readings) break;
            probe_low = std::min(probe_low, r->second);
            probe_high = std::max(probe_high, r->second);
        }
        low = std::min(low, probe_low);
        high = std::max(high, probe_high);
        near = near || (celsius > probe_low - allowed_k && celsius < probe_high + allowed_k);
    }
    if (low > high) return;
    ++statements_;
    if (near) return;
    char place[96];
    std::snprintf(place, sizeof place, "%.0f s: said %.2f, read %.2f to %.2f: ", at_s, celsius, low, high);
    lies_.push_back(place + said);
}

void Honest::text(double at_s, Subject subject, std::string const& said) {
    if (is_of_the_past(said)) return;
    for (auto const& [word, direction] : forecasts)
        if (said.find(word) != std::string::npos) forecast(at_s, subject, direction, said, true);
    for (auto const word : present)
        for (auto at = said.find(word); at != std::string::npos; at = said.find(word, at + 1)) {
            if (said.substr(0, at).ends_with("connector")) continue;  // another thing than its tip
            char const* number = said.c_str() + at + word.size();
            char* end = nullptr;
            double const celsius = std::strtod(number, &end);
            if (end != number && std::string_view(end).starts_with(" degC"))
                level(at_s, subject, celsius, said);
        }
}

// What is forecast to go one way, and has gone the other by more than a kelvin in the newest readings.
void Honest::forecast(double at_s, Subject subject, int direction, std::string const& said, bool of_text) {
    if (subject.kind != SubjectKind::vessel || direction == 0) return;
    int const probe = settings_.vessels[static_cast<std::size_t>(subject.number)].medium;
    auto const& readings = readings_[static_cast<std::size_t>(probe)];
    // A text is of the second that was judged, before the reading of that second came.
    auto const known = readings.size() - (of_text && !readings.empty() && readings.back().first >= at_s);
    if (known < least_readings) return;
    ++statements_;
    // The newest few may still be waiting for another that confirms them: both with and without them it must
    // have gone the other way.
    double const moved = travelled(readings, known);
    // However many of them wait; and a spike at the one end of three readings is none of four.
    for (auto sure = known; sure >= least_readings && known - sure <= held_readings; --sure)
        for (auto const least : {least_readings, least_readings + 1})
            if (travelled(readings, sure, least) * direction > -allowed_k) return;
    char place[128];
    std::snprintf(place, sizeof place, "%.0f s: moved by %.2f, forecast ", at_s, moved);
    lies_.push_back(place + said);
}

void Honest::forecast(double at_s, Forecast const& forecast, std::string const& said) {
    if (!forecast.eta_s) return;
    this->forecast(
        at_s, forecast.subject, forecast.direction,
        "of " + forecast.what + " in " + std::to_string(std::lround(*forecast.eta_s)) + " s, " + said, false);
}

void Honest::effects(double at_s, Effects const& effects) {
    for (auto const& effect : effects) {
        if (auto const* change = std::get_if<AlarmChanged>(&effect)) {
            auto const t = change->transition;
            if (t == Transition::raised || t == Transition::worsened || t == Transition::updated)
                text(at_s, change->alarm.subject, change->alarm.text);
        } else if (auto const* event = std::get_if<Event>(&effect)) {
            text(at_s, event->subject, event->text);
        } else if (auto const* told = std::get_if<Tell>(&effect)) {
            if (told->kind == "raised")
                for (auto const& alarm : told->alarms)
                    if (alarm.active) text(at_s, alarm.subject, alarm.text);
        } else if (auto const* when = std::get_if<Forecast>(&effect)) {
            forecast(at_s, *when, "told");
        }
    }
}

// One screen does not say "falling" and "boils in 9 min".
void Honest::beside_trend(double at_s, View const& view, int vessel, int direction, std::string const& said) {
    int const probe = view.vessels[static_cast<std::size_t>(vessel)].probe;
    if (probe < 0) return;
    auto const slope = view.probes[static_cast<std::size_t>(probe)].slope_k_per_min;
    ++statements_;
    if (!slope || *slope * 1.8 * direction > -0.05) return;
    char place[96];
    std::snprintf(place, sizeof place, "%.0f s: shown with %+.2f K/min: ", at_s, *slope);
    lies_.push_back(place + said);
}

void Honest::view(double at_s, View const& view) {
    for (auto const& probe : view.probes)
        if (probe.celsius) level(at_s, {SubjectKind::probe, probe.number}, *probe.celsius, "shown");
    for (auto const& vessel : view.vessels)
        if (vessel.forecast) {
            forecast(at_s, *vessel.forecast, "shown");
            if (vessel.forecast->eta_s)
                beside_trend(at_s, view, vessel.number, vessel.forecast->direction, vessel.forecast->what);
        }
    for (auto const& alarm : view.alarms) {
        if (!alarm.active || alarm.state == AlarmState::suppressed_by_design) continue;
        text(at_s, alarm.subject, alarm.text);
        bool const of_a_swing = alarm.text.find(" swings between ") != std::string::npos;  // of its mean
        if (alarm.subject.kind != SubjectKind::vessel || is_of_the_past(alarm.text) || of_a_swing) continue;
        for (auto const& [word, direction] : forecasts)
            if (alarm.text.find(word) != std::string::npos)
                beside_trend(at_s, view, alarm.subject.number, direction, alarm.text);
    }
}

}  // namespace ingle::scenarios
