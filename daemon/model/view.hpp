// The present, as the CLI, the page and the metrics show it. Plain values, built by the core on request.
#pragma once

#include <optional>
#include <string>
#include <string_view>
#include <vector>

#include "daemon/model/alarm.hpp"
#include "daemon/model/effects.hpp"
#include "daemon/model/response.hpp"

namespace ingle {

struct ProbeView {
    int number = 0;
    std::string name, driver;
    std::optional<double> celsius;  // the last good value, however old
    std::optional<Span> age;        // of that value; empty = never a value
    bool fresh = false;             // young enough to judge by
    Quality quality = Quality::faulty;
    std::optional<Fault> fault;  // why there is no value now
    std::optional<double> slope_k_per_min;
    std::optional<double> noise_k;  // standard deviation of the probe's own noise
    std::optional<double> cold_junction;
    std::vector<CalibrationPoint> calibration{};  // in use now: none, one or two points
};

struct VesselView {
    int number = 0;
    std::string name;
    VesselKind kind{};
    int probe = -1;
    std::optional<Band> band;
    std::string phase;  // "no band", "warming up" or "cooling down" (not reached yet), "not there yet"
                        // (and it stands still), "in band", "in band, settling", "above band", "below band",
                        // "coming back" (after a door or cold liquid, as it seems), "no reading", "readings
                        // doubtful", "door open" (by a switch), "door open?" (by the drop)
    std::optional<Forecast> forecast;  // of leaving the band, boiling, or reaching it
    std::string advice;                // which way to turn, or ""
    double boiling_c = 100;            // of its liquid, here and now
    VesselResponse response{};         // to more or less heat, as far as it is learnt
};

// Shown wherever verdicts are.
constexpr std::string_view food_safety_caution =
    "Checked against published rules; not a permit. Local codes and licensed practice come first, and what "
    "no probe saw is not known.";

struct Verdict {         // one statement about safety, with the rule it comes from
    std::string rule;    // "cooling", "lethality", "danger-zone", "hot-hold", "cold-hold", "core-target"
    std::string answer;  // "met", "missed", "not-applicable", "unknown", or a number with its unit
    std::string text;    // the sentence
    std::string source;  // the published source
};

// How the time that a stage waits for is counted.
struct StageClock {
    std::string state;         // "", "counts", "waits for its band", "stopped: outside its band", ...
    std::optional<Span> left;  // empty: the stage waits for no time
};

// What a stage waited for and had not come when the cook moved on: it is not done by that.
struct LeftUndone {
    std::string stage, text;       // "poach was left before its end: the core was at ..."
    std::optional<double> core_c;  // that the core was to reach; empty: only time or lethality was asked
};

struct TimerView {
    std::int64_t number = 0;
    std::string text;
    Span length{};
    Instant ends{};
    bool over = false;  // it has run out and waits to be acknowledged
};

struct ReminderView {
    std::int64_t number = 0;
    std::string text, waits_for;  // in words
    std::optional<Instant> next;  // of one that waits for a time
    std::optional<Span> every;
    std::optional<Instant> due;  // since when; until it is acknowledged
};

struct DishView {
    int number = 0;
    std::string name, food;
    int vessel = -1, core = -1;
    bool begun = false;
    std::int64_t cook = 0;  // number of this run, 0 = none
    std::optional<Instant> began, stage_began;
    std::string stage;
    std::size_t stage_number = 0;  // of its plan, from 0
    StageClock clock{};            // of a stage that waits for a time
    std::string counted_by;  // where that counts by another band than the plan's: which; "" = by the plan's
    bool core_reached = false;          // the target of the stage that runs
    bool cooked = false;                // its newest cook was for its serve-at, and is ended
    std::vector<LeftUndone> undone;     // in this cook
    std::optional<Instant> last_order;  // the newest begin, next or end that can be taken back
    std::optional<double> core_c, peak_c, target_c, medium_c;  // medium: where it is now, as it is read
    std::optional<Forecast> forecast;
    std::vector<Verdict> verdicts;
};

struct View {
    Instant at{};
    std::string kitchen;
    std::optional<std::int64_t> wall_offset_ms;  // wall = boot + offset; empty = time not known yet
    TemperatureUnit units{};
    std::vector<ProbeView> probes;
    std::vector<VesselView> vessels;
    std::vector<DishView> dishes;
    std::vector<TimerView> timers;  // the next one first
    std::vector<ReminderView> reminders;
    std::vector<Alarm> alarms;  // active, or returned and not acknowledged, or shelved; newest first
};

}  // namespace ingle
