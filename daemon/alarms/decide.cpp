#include "daemon/alarms/decide.hpp"

#include <algorithm>

#include "daemon/alarms/life_cycle.hpp"

namespace ingle {

std::string_view to_word(Reason reason) {
    switch (reason) {
        case Reason::none:
            return "none";
        case Reason::first:
            return "first";
        case Reason::worse:
            return "worse";
        case Reason::new_in_group:
            return "new in group";
        case Reason::cleared:
            return "cleared";
        case Reason::repeat_due:
            return "repeat due";
        case Reason::escalated:
            return "escalated";
        case Reason::unjudged:
            return "not judged";
    }
    return "none";
}

std::optional<Span> repeat_after(Priority priority, int repeats_before) {
    using std::chrono::minutes;
    switch (priority) {
        case Priority::low:
            return std::nullopt;
        case Priority::medium:
            return std::min(minutes(30) * (repeats_before + 1), minutes(240));
        case Priority::high:
            break;
    }
    return repeats_before < 6 ? minutes(10) : minutes(60);
}

bool is_unjudged(AlarmRecord const& record) {
    return record.truth == Truth::unknown && record.alarm.action != Action::discard;
}

Reason decide(Question const& q) {
    Alarm const& alarm = q.record.alarm;
    if (alarm.id == 0) return Reason::none;
    if (is_silenced(alarm.state)) return Reason::none;
    bool const good_news = alarm.type->good_news;
    if (!alarm.active) {
        bool const settled = alarm.cleared && q.now - *alarm.cleared >= recovery_settles;
        bool const told = settled && !good_news && (!alarm.type->prompt || !q.record.retraction.empty());
        return q.spoken.raised && told ? Reason::cleared : Reason::none;
    }
    if (alarm.priority < q.channel.least) return Reason::none;
    bool const waiting = alarm.state == AlarmState::unacknowledged;
    Span const after = from_seconds(q.channel.after.seconds);
    if (!q.spoken.raised) {
        if (!waiting) return Reason::none;  // somebody has seen it already
        if (after > Span(0) && (good_news || !q.record.heard_since || q.record.truth == Truth::absent))
            return Reason::none;
        // Nobody else could have acknowledged it meanwhile.
        if (after > Span(0) && !q.earlier_ones_fail) {
            return q.now - *q.record.heard_since >= after ? Reason::escalated : Reason::none;
        }
        bool const same_story = q.raised_at && q.now - *q.raised_at <= group_lasts;
        return same_story ? Reason::new_in_group : Reason::first;
    }
    if (alarm.priority > q.spoken.priority || alarm.grade > q.spoken.grade) return Reason::worse;
    // What has gone back and only waits for its off-delay is not "still so".
    if (!waiting || good_news || q.record.truth == Truth::absent) return Reason::none;
    auto const pause = repeat_after(alarm.priority, q.spoken.repeats);
    bool const due = pause && q.now - q.spoken.at >= *pause;
    if (!due && !q.spoken.again) return Reason::none;
    if (!is_unjudged(q.record)) return Reason::repeat_due;
    bool const judged_since = q.record.judged_at && q.spoken.at <= *q.record.judged_at;
    return judged_since && !q.explained ? Reason::unjudged : Reason::none;
}

}  // namespace ingle
