// The state of one alarm of one subject, and what each channel was sent of it. Plain values; owned by
// AlarmDesk.
#pragma once

#include <optional>
#include <string>
#include <vector>

#include "daemon/model/alarm.hpp"
#include "daemon/watches/watch.hpp"

namespace ingle {

// What one channel has been told of an alarm.
struct Spoken {
    bool raised = false;  // it knows that the alarm is there
    Instant at{};         // of the newest message
    Priority priority{};  // that it was told
    int grade = 0;        // the same
    int repeats = 0;
    bool again = false;  // it was silenced since, and is still true: say so
};

struct AlarmRecord {
    Alarm alarm;  // id 0: never raised

    Truth truth = Truth::unknown;
    std::string text;       // of the newest present finding
    std::string meanwhile;  // what its watch says while it does not judge; "" = that it is not checked
    Priority priority{};
    int grade = 0;
    int variant = 0;       // Finding::variant, of the newest present finding
    bool another = false;  // it became another one, and that has not been raised yet
    double value = 0;
    std::optional<Instant> since;  // Finding::since, of the newest present finding
    Action action = Action::none;
    bool can_wait = false;  // Finding::can_wait, of the newest present finding
    std::string order;      // Finding::order, with which `text` ends
    Span on_delay{0}, off_delay{0};
    std::vector<int> probes;              // that the subject is judged by
    std::string design_mute;              // muted by its watch's own situation: "door-opened"
    std::optional<Instant> design_since;  // since when without a break
    std::optional<Instant> present_since, absent_since;
    std::optional<Instant> judged_at;  // when it was last known to be so or not
    std::optional<double> first_value;

    bool shown = false;                  // it was unacknowledged once, so somebody should know of it
    std::optional<Instant> heard_since;  // since when it could be heard: raised, and not muted since
    bool lent = false;                   // its newest priority is that of an alarm that it mutes
    std::optional<Instant> borrowed_at;  // when its text was that of an alarm that it mutes
    std::vector<Spoken> spoken;          // by channel
    std::optional<Instant> updated_at;   // of the newest AlarmChanged
    bool announced = false;              // good news: told, until the subject begins anew
    // A prompt that was told and never was so: what is said when it ends, which else nobody is told. "" =
    // none.
    std::string retraction;
    int answered = 0;       // a prompt: the highest grade that was acknowledged
    bool recalled = false;  // active before a restart, and its watch has not found it so since
    int returns = 0;        // occurrences in a row that each came soon after the one before: chattering
};

}  // namespace ingle
