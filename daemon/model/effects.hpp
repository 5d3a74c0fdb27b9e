// What the core wants done after a step, in the order in which it happened. Plain values.
#pragma once

#include <optional>
#include <string>
#include <utility>
#include <variant>
#include <vector>

#include "daemon/model/alarm.hpp"
#include "daemon/model/subject.hpp"
#include "drivers/reading/reading.hpp"

namespace ingle {

enum class Quality {
    good,
    doubtful,  // used, but marked: noisy, burst, settling, disagrees
    rejected,  // a spike or an implausible value: kept visible, never in min/max, never judged
    faulty     // no value
};

// A reading to record: the value as the driver gave it, and the value after calibration.
struct Recorded {
    int probe = 0;
    Instant at{};
    Quality quality = Quality::good;
    std::optional<double> raw;      // degC before calibration; empty if faulty
    std::optional<double> celsius;  // degC after calibration; empty if faulty or rejected as implausible
    std::optional<Fault> fault;     // faulty or rejected: why
    std::optional<double> cold_junction;
    std::optional<std::uint32_t> word;
};

enum class Transition {
    raised,
    worsened,
    acknowledged,
    cleared,
    shelved,
    unshelved,
    suppressed,
    unsuppressed,
    updated
};

struct AlarmChanged {
    Instant at{};
    Transition transition{};
    Alarm alarm;
};

struct Event {
    Instant at{};
    std::string name;  // "door-opened", "gap", "stage-began", ...
    Subject subject;
    std::string text;
    std::vector<std::pair<std::string, double>> numbers;  // "depth_c", "recovery_s": for programs
};

// A forecast that was kept is an event of this name in the logbook; the last one of a target that was reached
// says that nothing is left of the way.
inline constexpr std::string_view kept_forecast = "foretold";

struct Forecast {
    Instant at{};
    std::string what;  // "core-target", "leaving-band", "boiling", "cooling"
    Subject subject;
    std::optional<double> eta_s, low_s, high_s;  // seconds from `at`
    double confidence = 0.8;
    std::string why;                                // where there is no honest estimate, or what it rests on
    std::optional<double> low_half_s, high_half_s;  // of a core's target: every second time inside
    bool kept = false;                              // as it was told, for the logbook and the review
    int direction = 0;  // +1: true only while the readings do not fall; -1: not rise; 0: either
};

// One message for one channel. Several alarms of one burst share a message.
struct Tell {
    Instant at{};
    int channel = 0;
    std::string kind;  // "raised", "cleared", "reminder", "summary"
    std::vector<Alarm> alarms;
    std::string text;    // what the person reads
    std::string reason;  // why now: "first", "worse", "new in group", "cleared", "repeat due", "escalated"
};

// The durable state changed in a way that must be on disk with the effects above it.
struct MemoryChanged {};

using Effect = std::variant<Recorded, AlarmChanged, Event, Forecast, Tell, MemoryChanged>;
using Effects = std::vector<Effect>;

}  // namespace ingle
