// What a person, a plan or the machine room tells the core. Plain values; every one has its time.
#pragma once

#include <optional>
#include <string>
#include <variant>
#include <vector>

#include "config/settings.hpp"
#include "daemon/model/subject.hpp"
#include "drivers/reading/clock.hpp"

namespace ingle {

struct Hold {
    int vessel = -1;
    std::optional<Band> band;
    std::optional<Span> length = {};  // from the moment that the band is reached; then a timer tells of it
};                                    // no band: stop holding
struct PastReading {
    int probe = -1;
    Instant at{};
    double celsius = 0;
    bool doubtful = false;
};
struct Begin {
    int dish = -1;
    std::optional<Instant> when = {};    // a time in the past
    std::vector<PastReading> read = {};  // since then, from the record, the oldest first; for what the core
};                                       // itself does not remember
struct Next {
    int dish = -1;
    bool meant = true;  // false: refused where the newest `next` was moments ago, as a second press is
};                      // on to the plan's next stage
struct End {
    int dish = -1;
};
struct Back {
    int dish = -1;
};                   // takes back its newest begin, next or end
struct NoteBack {};  // takes back the newest note
struct ServeAt {
    int dish = -1;
    std::optional<std::int64_t> at = {};  // wall time, ms since 1970 UTC; empty: it has no serving time
};
struct StartTimer {
    Span length{};     // longer than nothing
    std::string text;  // what is to be done then; may be empty
};
struct StopTimer {
    std::int64_t timer = 0;
};
struct Remind {  // of something to do; exactly one of the five says when
    std::string text;
    std::optional<Instant> at = {};      // a time of the day: it stays that where the clock is corrected
    std::optional<Span> in = {};         // once, so long from now
    std::optional<Span> every = {};      // first one such length from now
    std::optional<double> celsius = {};  // that `about` comes to: the core of a dish, the medium of a vessel
    bool stage_end = false;              // of `about`, a dish that cooks
    Subject about = {};
};
struct StopReminder {
    std::int64_t reminder = 0;
};
struct Note {
    Subject about;
    std::string text;
    std::optional<Instant> when;
};  // when: a time in the past
struct Acknowledge {
    std::optional<std::int64_t> alarm;
    std::string by;
};  // no number: all of them
struct Shelve {
    std::int64_t alarm = 0;
    Span length{};
    std::string by;
};  // length 0: end the shelving
struct OutOfService {
    Subject subject;
    bool out = true;
    std::string by;
    bool told = true;  // as an alarm of its own, as long as it lasts
};
// wall = boot time + offset. `certain` false: the board has not learnt the time yet. `proven`: a time service
// or the board's own battery clock vouches for it; a board without either starts with its last saved time,
// which looks sensible and is too early.
struct ClockAnchor {
    std::int64_t offset_ms = 0;
    bool certain = false;
    bool proven = certain;
};
struct Switch {
    int vessel = -1;
    bool open = false;
};  // a real door or lid switch
struct PressureNow {
    Pressure pressure;
};
// Trouble outside the core that must become an alarm: "not-recording", "not-delivered", "clock-uncertain".
struct KitchenTrouble {
    std::string alarm;
    bool present = false;
    std::string text;
    std::string of = {};  // which one joined those that it is about: whoever was told learns of it, once
    // Of "not-delivered": the channels that nothing goes out by now.
    std::vector<std::string> channels = {};
};
struct DriverEvent {
    int probe = -1;  // -1: of the kitchen as a whole
    std::string event, text;
};
struct Calibrate {
    int probe = -1;
    std::vector<CalibrationPoint> points;
};

using Command = std::variant<Hold, Begin, Next, End, Note, Acknowledge, Shelve, OutOfService, ClockAnchor,
                             Switch, PressureNow, KitchenTrouble, DriverEvent, Calibrate, StartTimer,
                             StopTimer, Remind, StopReminder, Back, NoteBack, ServeAt>;

}  // namespace ingle
