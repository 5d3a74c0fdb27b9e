// Whether a channel is told of an alarm now, and why. Pure: one answer for one state, a table in decide_test.
#pragma once

#include <optional>
#include <string_view>

#include "config/settings.hpp"
#include "daemon/alarms/record.hpp"
#include "daemon/model/alarm.hpp"

namespace ingle {

enum class Reason {
    none,
    first,
    worse,
    new_in_group,
    cleared,
    repeat_due,
    escalated,
    unjudged  // a reminder is due, and whether it still holds cannot be judged: said once
};
std::string_view to_word(Reason reason);  // "first", "new in group", ...

// A recovery is told once it has lasted this long, so that chattering on a limit is one message.
constexpr Span recovery_settles = std::chrono::seconds(30);
// Another alarm this soon after a message belongs to the same group.
constexpr Span group_lasts = std::chrono::seconds(60);

// Reminders of what nobody has acknowledged: how long after the message before. Ever rarer, because the tenth
// in an hour is not read, and without end, because who was away comes back. Empty: none (low priority).
std::optional<Span> repeat_after(Priority priority, int repeats_before);

// Active, and not known to hold now. Food that was to be discarded stays so.
bool is_unjudged(AlarmRecord const& record);

struct Question {
    AlarmRecord const& record;
    Spoken const& spoken;  // what this channel was sent of it
    ChannelSettings const& channel;
    std::optional<Instant> raised_at{};  // when this channel was last told of any new alarm
    Instant now{};
    // This channel knows of an alarm that says why this one cannot be judged, or more than this one did.
    bool explained = false;
    bool earlier_ones_fail = false;  // the channels that are told before this one, each of them
};
Reason decide(Question const& q);

}  // namespace ingle
