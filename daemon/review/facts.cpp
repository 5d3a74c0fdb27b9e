#include "daemon/review/facts.hpp"

#include <algorithm>
#include <map>

#include "daemon/review/at.hpp"

namespace ingle {
namespace {

constexpr double told_gap_s = 60;  // shorter ones are in the record only

CookSeries const* medium_of(CookRecord const& record, std::string const& vessel) {
    auto const found = std::ranges::find(record.vessels, vessel, &CookVessel::name);
    return found == record.vessels.end() ? nullptr : &found->medium;
}

// From the lowest reading until 63 % of what was lost is back.
std::optional<double> time_constant(CookSeries const& series, double from, double to) {
    auto const first = std::ranges::lower_bound(series.samples, from, {}, &CookSample::t);
    auto const end = std::ranges::upper_bound(series.samples, to, {}, &CookSample::t);
    if (end - first < 4) return std::nullopt;
    auto const lowest = std::min_element(
        first, end, [](CookSample const& a, CookSample const& b) { return a.celsius < b.celsius; });
    double const back = (end - 1)->celsius, level = lowest->celsius + 0.632 * (back - lowest->celsius);
    if (back - lowest->celsius < 2) return std::nullopt;
    auto const there =
        std::find_if(lowest, end, [&](CookSample const& sample) { return sample.celsius >= level; });
    return there == end ? std::nullopt : std::optional(there->t - lowest->t);
}

void add_gaps(std::vector<GapFacts>& gaps, CookSeries const& series, double length_s) {
    auto const reason = [&](double from, double to) {
        for (auto const& fault : series.faults)
            if (fault.from < to && fault.to > from) return fault.reason;
        return std::string("no readings");
    };
    auto const add = [&](double from, double to) {
        if (to - from > std::max(told_gap_s, series.longest_step_s()))
            gaps.push_back({series.probe, reason(from, to), from, to});
    };
    double before = 0;
    for (auto const& sample : series.samples) {
        if (sample.t < 0) continue;
        add(before, sample.t);
        before = sample.t;
    }
    add(before, length_s);
}

}  // namespace

std::vector<DoorFacts> door_facts(CookRecord const& record) {
    std::vector<DoorFacts> doors;
    std::map<std::string, double> opened;
    for (auto const& event : record.events) {
        if (event.name == "door-opened") {
            opened[event.subject] = event.t;
        } else if (event.name == "door-closed") {
            DoorFacts door;
            door.vessel = event.subject;
            door.depth_k = event.number("depth_c").value_or(0);
            door.open_s = event.number("open_s").value_or(0);
            auto const recovery = event.number("recovery_s");
            if (recovery && *recovery > 0) door.recovery_s = recovery;
            auto const found = opened.find(event.subject);
            // The word comes some seconds after the door, and at its end the chamber has recovered.
            door.at = std::max(0.0, event.t - door.open_s - door.recovery_s.value_or(0));
            if (found != opened.end()) door.at = std::min(door.at, found->second);
            if (auto const* series = medium_of(record, event.subject))
                door.time_constant_s = time_constant(*series, door.at, event.t);
            doors.push_back(door);
            opened.erase(event.subject);
        }
    }
    for (auto const& [vessel, at] : opened) {
        DoorFacts door;
        door.vessel = vessel;
        door.at = at;
        doors.push_back(door);
    }
    std::ranges::sort(doors, {}, &DoorFacts::at);
    return doors;
}

std::vector<AlarmFacts> alarm_facts(CookRecord const& record) {
    std::vector<AlarmFacts> alarms;
    for (auto const& step : record.alarms) {
        auto known = std::ranges::find(alarms, step.alarm, &AlarmFacts::number);
        if (step.transition == "raised" || known == alarms.end()) {
            if (step.transition == "raised" && known != alarms.end()) {
                known->cleared.reset();  // it came again before it was over
                continue;
            }
            if (step.transition == "cleared" || step.transition == "suppressed") continue;
            AlarmFacts alarm;
            alarm.number = step.alarm;
            alarm.name = step.name;
            alarm.subject = step.subject;
            alarm.priority = step.priority;
            alarm.text = step.text;
            alarm.raised = step.t;
            alarms.push_back(std::move(alarm));
            if (step.transition == "raised") continue;
            known = alarms.end() - 1;
        }
        if (step.transition == "acknowledged" && !known->acknowledged) {
            known->acknowledged = step.t;
            known->acknowledged_by = step.by;
        } else if (step.transition == "cleared" && !known->cleared) {
            known->cleared = step.t;  // the step from returned to normal is told by the same word
        } else if (step.transition == "worsened") {
            known->priority = step.priority;
            known->worse.push_back({step.t, step.priority, step.text});
        }
    }
    return alarms;
}

std::vector<GapFacts> gap_facts(CookRecord const& record) {
    std::vector<GapFacts> gaps;
    for (auto const& core : record.cores) add_gaps(gaps, core, record.length_s);
    for (auto const& vessel : record.vessels)
        if (!vessel.medium.probe.empty()) add_gaps(gaps, vessel.medium, record.length_s);
    std::ranges::sort(gaps, {}, &GapFacts::from);
    return gaps;
}

double blind_s(std::vector<GapFacts> const& gaps) {
    double sum = 0, until = 0;
    for (auto const& gap : gaps) {
        sum += std::max(0.0, gap.to - std::max(gap.from, until));
        until = std::max(until, gap.to);
    }
    return sum;
}

CookFacts facts_of(CookRecord const& record) {
    CookFacts facts;
    facts.bands = band_facts(record);
    facts.doors = door_facts(record);
    facts.alarms = alarm_facts(record);
    facts.gaps = gap_facts(record);
    auto const judged = judge_cook(record);
    facts.food = food_facts(record, judged);
    facts.forecasts = forecast_facts(record, facts.bands, judged.cores, facts.food.target_c);
    facts.responses = response_facts(record, facts);
    facts.next_time = next_time(record, facts);
    return facts;
}

}  // namespace ingle
