// A watch is a rule over readings: it says what is true now; when that becomes an alarm (delays, life cycle,
// suppression) is daemon/alarms' business. Watches are pure, know no other watch, and are listed in
// watches.def.
#pragma once

#include <memory>
#include <optional>
#include <span>
#include <string>
#include <string_view>
#include <vector>

#include "config/settings.hpp"
#include "daemon/model/alarm.hpp"
#include "daemon/model/bounds.hpp"
#include "daemon/model/effects.hpp"
#include "daemon/model/memory.hpp"
#include "daemon/model/response.hpp"
#include "daemon/model/subject.hpp"

namespace ingle {

// A regular swing that a thermostat or a compressor makes, over its last few periods.
struct Cycle {
    double period_s = 0;
    double mean = 0, low = 0, high = 0;  // degC: judge the mean and the extremes apart
};

// What conditioning knows of one probe at one moment.
struct Signal {
    int probe = -1;
    bool fresh = false;                   // a good value young enough to judge by
    double celsius = 0;                   // last good value, despiked and calibrated; valid if `age` is set
    std::optional<Span> age;              // of that value; empty = never had one
    std::optional<Fault> fault;           // the present fault
    std::optional<Instant> silent_since;  // since when there is no good value
    bool doubtful = false;
    double level = 0;     // filtered, degC; within `bounds`
    double slope = 0;     // K/s; within `bounds`, 0 until settled
    Bounds bounds{};      // of what may be told of it
    bool settled = true;  // its trend is the medium's: no step, no gap and no slow probe on its way lately
    Span every{};         // between its readings, as learnt
    double level_variance = 1, covariance = 0, slope_variance = 1;  // of the level-and-trend filter
    double noise = 0.1;                                             // sd of the probe's own noise, K
    double step = 0;                                                // resolution seen, K
    std::optional<double> cold_junction;
    std::optional<double> cold_junction_slope;  // K/s
    double fault_rate = 0;                      // share of readings lost in the last 5 min, 0..1
    double innovation = 0;                      // standardised, of the newest sample
    Instant sample_at{};                        // stamp of the newest good sample
    double slope_walk = 1e-6;           // how fast the slope itself wanders, K²/s³ (see crossing.hpp)
    std::optional<Cycle> cycle;         // if the value swings regularly
    int jumps = 0;                      // steps that the trend started anew from; grows by one each
    int spikes = 0;                     // single samples that were refused; grows by one each
    Instant spike_at{};                 // stamp of the newest of them
    int scattered = 0;                  // bursts that were no step and no spike; grows by one each
    std::optional<Instant> changed_at;  // when it newly stepped far, or appeared
    // Of the newest readings that were believed only when later ones confirmed them: the first, and when.
    std::optional<Instant> held_since, held_until;
};

enum class Truth { absent, present, unknown };  // unknown: no data; an active alarm stays, no new one comes

struct Finding {
    AlarmType const* type = nullptr;
    Truth truth = Truth::absent;
    std::string text;                  // only needed if present
    std::string meanwhile;             // if unknown: what is told instead, where it is known why
    std::optional<Priority> priority;  // else the type's
    double value = 0;                  // for `worst`
    // Of the same alarm, a further limit passed or a further thing to see: a higher grade than before is told
    // anew and asks for a new acknowledgement, as a higher priority does.
    int grade = 0;
    // Of an alarm that can be of two things (leaving at the top, at the bottom): another one than before is
    // another occurrence, with its own delay, begin and notice.
    int variant = 0;
    // When it began, or of a prompt, when what it says newest came, where that was before it could be raised.
    // Empty: when it was first found.
    std::optional<Instant> since;
    std::optional<Span> on_delay, off_delay;  // a setting; else the type's
    // What the cook is to do: a sentence that ends the text, and the way it turns. Both are dropped where an
    // alarm of the same dish or its vessel that weighs more asks for the opposite.
    std::string order;
    Action action = Action::none;
    // Of an alarm that the cook asked for (AlarmType::asked_for): nobody is needed for it, so that it can
    // wait for the end of a channel's quiet hours.
    bool can_wait = false;
    bool yields = false;  // for a band's sake only: what the food asks for weighs more, also where it is high
};

enum class BandPhase { none, warming_up, held };  // held: the band was reached once since it was set

struct VesselSituation {
    Instant now{};
    VesselSettings const* vessel = nullptr;
    int number = 0;
    Signal const* medium = nullptr;   // nullptr: not probed
    std::span<Signal const> signals;  // of every probe, by number
    std::optional<Band> band;
    BandPhase phase = BandPhase::none;
    Instant band_since{};
    double boiling_c = 100;                // boiling point of its liquid, from height, pressure and salt
    std::optional<double> boils_at;        // degC: the boiling plateau that was seen in it
    std::optional<double> room_c;          // a room probe's value, if there is one
    std::optional<bool> door_switch_open;  // a real switch
    bool dish_inside = false;              // a stage of a dish is under way in it
    bool band_silenced = false;            // a watch said so in the second before
    int doors = 0;                         // how often it was opened and has come back
    double recovery_s = 0;                 // that the newest of these took
};

struct ProbeSituation {
    Instant now{};
    ProbeSettings const* probe = nullptr;
    int number = 0;
    Signal const* signal = nullptr;
    std::span<Signal const> signals;               // of all probes, by number
    std::span<ProbeSettings const> probes;         // the same
    std::vector<int> const* companions = nullptr;  // probes in the same medium
    VesselSettings const* vessel = nullptr;        // the vessel whose medium it is, if any
    std::optional<Band> band;                      // of that vessel
    double boiling_c = 100;
    bool is_core = false;
    bool in_use = true;            // its vessel is held, or a dish is in it
    std::optional<double> room_c;  // a room probe's value, if there is one
};

struct WatchOutput {
    std::vector<Finding> findings;
    std::vector<Event> events;
    std::vector<Forecast> forecasts;
    std::string advice;                      // which way to turn
    std::optional<VesselResponse> response;  // of the vessel, as far as it is learnt
    std::optional<double> boils_at;          // degC: its boiling plateau, as long as one is known
    std::optional<double> door_recovery_s;   // a door was shut, and the way back took so long
    std::vector<int> doubted;                // probes whose values are doubtful in the second that follows
    bool seems_open = false;                 // fell as when a door is opened, and has not turned back yet
    // The event that may explain why it is outside ("door-opened", "topped-up"): for now, and for a bounded
    // time, the band alarms are suppressed by design. "" = none.
    std::string_view silence_band{};
};

template <class Situation>
class WatchOf {
public:
    virtual ~WatchOf() = default;
    virtual void step(Situation const& now, WatchOutput& out) = 0;  // once per second of core time
    virtual void remember(Memory&, std::string const& /*prefix*/) const {}
    virtual void recall(Memory const&, std::string const& /*prefix*/) {}
};
using VesselWatch = WatchOf<VesselSituation>;
using ProbeWatch = WatchOf<ProbeSituation>;

struct WatchInfo {
    std::string_view name;              // its folder
    std::span<AlarmType const> alarms;  // all it can raise
    // nullptr (the function, or what it returns) where the watch does not apply to this subject.
    std::unique_ptr<VesselWatch> (*for_vessel)(Settings const&, int vessel) = nullptr;
    std::unique_ptr<ProbeWatch> (*for_probe)(Settings const&, int probe) = nullptr;
    // Of what it remembers: one more whenever one of its keys comes to mean something else.
    int memory_version = 1;
};

}  // namespace ingle
