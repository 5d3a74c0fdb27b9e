// What people tell the desk: seen, silence it, out of service; and the end of what an alarm was about.
#include "daemon/alarms/alarm_desk.hpp"
#include "daemon/alarms/shelve.hpp"

namespace ingle {

void AlarmDesk::command(Instant now, Acknowledge const& command, Effects& out) {
    for (auto& [key, record] : records_) {
        Alarm& alarm = record.alarm;
        if (alarm.id == 0 || (command.alarm && *command.alarm != alarm.id)) continue;
        bool const waits =
            alarm.state == AlarmState::unacknowledged || alarm.state == AlarmState::returned_unacknowledged;
        // Named, a silenced one can be acknowledged too.
        bool const named = command.alarm && alarm.state != AlarmState::normal && !alarm.acknowledged;
        if (!waits && !named) continue;
        alarm.acknowledged = now;
        alarm.acknowledged_by = command.by;
        happens(now, AlarmEvent::acknowledged, record);
        changed(now, Transition::acknowledged, record, out);
        if (alarm.type->prompt) answer(now, record, out);
    }
    finish(out);
}

void AlarmDesk::answer(Instant now, AlarmRecord& record, Effects& out) {
    record.answered = record.alarm.grade;
    record.absent_since = now;
    if (record.alarm.shelved_until) unshelve(now, record, out);  // else it would stay shelved for ever
    if (record.alarm.active) clear(now, record, out);
}

void AlarmDesk::command(Instant now, Shelve const& command, Effects& out) {
    AlarmRecord* const record = find(command.alarm);
    if (!record || record->alarm.id == 0 || record->alarm.state == AlarmState::normal) return;
    if (auto const end = end_of_shelving(now, command.length)) {
        record->alarm.shelved_until = end;
        happens(now, AlarmEvent::shelved, *record);
        changed(now, Transition::shelved, *record, out);
    } else if (record->alarm.shelved_until) {
        unshelve(now, *record, out);
    }
    finish(out);
}

void AlarmDesk::command(Instant now, OutOfService const& command, Effects& out) {
    auto const by = !command.told ? "" : command.by.empty() ? "somebody" : command.by;
    bool const did = command.out ? out_of_service_.emplace(command.subject, by).second
                                 : out_of_service_.erase(command.subject) > 0;
    if (!did) return;
    memory_changed_ = true;
    for (auto& [key, record] : records_) {
        if (record.alarm.subject != command.subject || !record.alarm.active) continue;
        happens(now, command.out ? AlarmEvent::removed : AlarmEvent::restored, record);
        changed(now, command.out ? Transition::suppressed : Transition::unsuppressed, record, out);
    }
    finish(out);
}

// A silence without an end must not be forgotten.
std::string AlarmDesk::what_is_out_of_service() const {
    std::string text;
    for (auto const& [subject, by] : out_of_service_)
        if (!by.empty())
            text += (text.empty() ? "" : " ") + names_.of(subject) + " is out of service (" + by +
                    "): none of its alarms is told. It speaks again with `ingle out-of-service " +
                    names_.of(subject) + " --off`.";
    return text;
}

void AlarmDesk::forget(Instant now, Subject subject, Effects& out) {
    places_.clear();
    for (auto place = records_.begin(); place != records_.end();) {
        if (place->first.second != subject) {
            ++place;
            continue;
        }
        AlarmRecord& record = place->second;
        if (record.alarm.id != 0 && record.alarm.state != AlarmState::normal) {
            record.alarm.active = false;
            if (!record.alarm.cleared) record.alarm.cleared = now;
            record.alarm.shelved_until.reset();
            record.alarm.muted_by.clear();
            record.alarm.state = AlarmState::normal;
            changed(now, Transition::cleared, record, out);
        }
        memory_changed_ = memory_changed_ || record.announced || record.answered > 0;
        place = records_.erase(place);
    }
    finish(out);
}

void AlarmDesk::tell_anew(Subject subject, std::string_view alarm) {
    for (auto& [key, record] : records_) {
        if (key.second != subject || key.first != alarm || !record.announced) continue;
        record.announced = false;
        memory_changed_ = true;
    }
}

}  // namespace ingle
