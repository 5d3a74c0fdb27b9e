#include "daemon/alarms/alarm_desk.hpp"

#include <algorithm>
#include <cmath>

#include "daemon/alarms/life_cycle.hpp"
#include "daemon/alarms/shelve.hpp"

namespace ingle {

namespace {

// An occurrence this soon after the one before counts as chattering. From the third spell on, each further
// one lengthens the off-delay.
constexpr Span chatters_within = std::chrono::minutes(5);
constexpr int chattering_from = 3;
constexpr Span chattering_hold = std::chrono::minutes(1);
constexpr Span longest_hold = std::chrono::minutes(5);
// How long a consequence waits for a cause that is present and not yet raised.
constexpr Span wait_for_cause = std::chrono::minutes(1);
constexpr Span update_every = std::chrono::minutes(5);  // how often a new explanation is recorded

// After a restart a watch may lack the past that it judges by: that it finds nothing is no recovery yet.
constexpr Span after_restart = std::chrono::minutes(10);

Span believed_off_delay(AlarmRecord const& record) {
    if (record.recalled) return std::max(record.off_delay, after_restart);
    int const beyond = record.alarm.spells + record.returns - chattering_from + 1;
    if (beyond <= 0) return record.off_delay;
    return std::max(record.off_delay, std::min<Span>(longest_hold, beyond * chattering_hold));
}

// The channels that were sent it are sent it once more: it was silenced, and still holds.
void say_again(AlarmRecord& record, bool again) {
    for (Spoken& spoken : record.spoken) spoken.again = again && spoken.raised;
}

Instant came(Instant now, AlarmRecord const& record) {
    return std::min(record.since.value_or(now), now);
}

bool is_worse(AlarmRecord const& record) {
    return record.priority > record.alarm.priority || record.grade > record.alarm.grade;
}

// Told once: good news, until its subject begins anew; a prompt, until there is more to see.
bool was_told_for_good(AlarmRecord const& record) {
    AlarmType const& type = *record.alarm.type;
    return (type.good_news && record.announced) || (type.prompt && record.grade <= record.answered);
}

}  // namespace

AlarmDesk::AlarmDesk(Settings const& settings, std::vector<AlarmType const*> types)
    : names_(settings), types_(std::move(types)), teller_(settings) {}

AlarmRecord& AlarmDesk::record_of(AlarmType const& type, Subject subject) {
    auto const [place, fresh] = records_.try_emplace(AlarmKey{type.name, subject});
    AlarmRecord& record = place->second;
    if (fresh) {
        record.alarm.type = &type;
        record.alarm.subject = subject;
        record.spoken.resize(teller_.channels().size());
    }
    return record;
}

AlarmRecord* AlarmDesk::find(std::int64_t id) {
    for (auto& [key, record] : records_)
        if (record.alarm.id == id) return &record;
    return nullptr;
}

void AlarmDesk::step(Instant now, std::span<Judged const> judged, Effects& out) {
    stepped_ = now;
    places_.resize(judged.size());
    for (std::size_t i = 0; i < judged.size(); ++i) {
        Judged const& j = judged[i];
        if (!j.finding.type) continue;
        // The findings of a second come in the order of the second before, so that none is looked for twice.
        AlarmRecord*& place = places_[i];
        if (!place || place->alarm.type != j.finding.type || place->alarm.subject != j.subject)
            place = &record_of(*j.finding.type, j.subject);
        note(now, j, *place);
    }
    // Causes before consequences, so that within one step the cause is the alarm.
    for (bool const can_be_muted : {false, true})
        for (auto& [key, record] : records_)
            if (record.alarm.type->suppressed_by.empty() != can_be_muted) live(now, record, out);
    for (auto& [key, record] : records_) {
        mute(now, record, out);
        if (record.alarm.active && !record.alarm.muted_by.empty()) lend_priority(now, record, out);
        if (record.alarm.shelved_until && now >= *record.alarm.shelved_until) unshelve(now, record, out);
    }
    if (teller_.step(now, records_, names_, out)) memory_changed_ = true;
    finish(out);
}

void AlarmDesk::note(Instant now, Judged const& judged, AlarmRecord& record) {
    Finding const& finding = judged.finding;
    record.truth = finding.truth;
    record.on_delay = finding.on_delay.value_or(finding.type->on_delay);
    record.off_delay = finding.off_delay.value_or(finding.type->off_delay);
    record.probes.assign(judged.probes.begin(), judged.probes.end());
    record.design_mute = judged.muted_by;
    if (record.design_mute.empty())
        record.design_since.reset();
    else if (!record.design_since)
        record.design_since = now;
    record.meanwhile = finding.truth == Truth::unknown ? finding.meanwhile : "";
    if (finding.truth != Truth::unknown) record.judged_at = now;
    switch (finding.truth) {
        case Truth::present:
            record.recalled = false;
            if (finding.variant != record.variant) {
                record.another = record.alarm.active;
                record.present_since.reset();
            }
            record.variant = finding.variant;
            record.text = finding.text;
            record.grade = finding.grade;
            record.priority = finding.priority.value_or(finding.type->priority);
            record.value = finding.value;
            record.since = finding.since;
            record.action = finding.action;
            record.can_wait = finding.can_wait;
            record.order = finding.order;
            if (record.alarm.active && record.absent_since) ++record.alarm.spells;
            if (!record.present_since) record.present_since = now;
            record.absent_since.reset();
            break;
        case Truth::absent:
            if (!record.absent_since) record.absent_since = now;
            record.present_since.reset();
            break;
        case Truth::unknown:
            // Time without data never counts toward a recovery.
            record.absent_since.reset();
            break;
    }
}

void AlarmDesk::live(Instant now, AlarmRecord& record, Effects& out) {
    Alarm& alarm = record.alarm;
    if (alarm.active && record.another && !alarm.shelved_until) clear(now, record, out);
    if (!alarm.active) {
        bool const due = record.truth == Truth::present && record.present_since &&
                         now - *record.present_since >= record.on_delay;
        if (!due || was_told_for_good(record)) return;
        Span const overdue = now - *record.present_since - record.on_delay;
        bool const cause_is_coming = cause_of(record, records_, now).empty() && overdue < wait_for_cause &&
                                     !coming_cause_of(record, records_).empty();
        if (!cause_is_coming) raise(now, record, out);
        return;
    }
    if (record.truth == Truth::present) {
        if (!record.first_value) record.first_value = alarm.worst = record.value;
        if (std::abs(record.value - *record.first_value) > std::abs(alarm.worst - *record.first_value))
            alarm.worst = record.value;
        bool const news = record.text != alarm.text;
        alarm.text = record.text;
        alarm.action = record.action;
        alarm.can_wait = record.can_wait;
        if (is_worse(record))
            worsen(now, record, out);
        else if (news && record.updated_at && now - *record.updated_at >= update_every)
            changed(now, Transition::updated, record, out);
    } else if (record.truth == Truth::absent && now - *record.absent_since >= believed_off_delay(record)) {
        clear(now, record, out);
    }
}

// One event of the table in life_cycle.cpp; then what silences the subject meanwhile.
void AlarmDesk::happens(Instant now, AlarmEvent event, AlarmRecord& record) {
    Alarm& alarm = record.alarm;
    bool const wants_answer = !alarm.type->good_news && !alarm.type->prompt;
    WhatHolds const holding{alarm.active, alarm.acknowledged.has_value(),
                            record.shown && !alarm.acknowledged && wants_answer};
    auto const step = life_step(alarm.state, event, holding);
    alarm.state = step.state;
    if (step.told == Told::again) say_again(record, alarm.active);
    if (step.told == Told::recovery || event == AlarmEvent::acknowledged) say_again(record, false);
    if (alarm.state == AlarmState::returned_unacknowledged && !wants_answer) alarm.state = AlarmState::normal;
    silence(now, record);
}

// What silences the subject in any case, the stronger first.
void AlarmDesk::silence(Instant now, AlarmRecord& record) {
    Alarm& alarm = record.alarm;
    if (!is_silenced(alarm.state) && alarm.active) {
        if (out_of_service_.contains(alarm.subject))
            alarm.state = life_step(alarm.state, AlarmEvent::removed, {}).state;
        else if (!alarm.muted_by.empty())
            alarm.state = life_step(alarm.state, AlarmEvent::suppressed, {}).state;
    }
    bool const heard = alarm.state == AlarmState::unacknowledged;
    record.shown = record.shown || heard;
    // Of an alarm that another one covers for a while somebody was told, and has not answered.
    bool const covered = alarm.state == AlarmState::suppressed_by_design;
    if (!heard && !covered)
        record.heard_since.reset();
    else if (heard && !record.heard_since)
        record.heard_since = now;
}

void AlarmDesk::raise(Instant now, AlarmRecord& record, Effects& out) {
    Alarm& alarm = record.alarm;
    // What comes back before its recovery was told, or while it is shelved, is the same occurrence. Once it
    // was acknowledged and has cleared it is a new one: who saw the first knows nothing of the second.
    bool const unseen = alarm.state == AlarmState::returned_unacknowledged;
    bool const untold = alarm.cleared && now - *alarm.cleared < recovery_settles;
    bool const same = unseen && untold && !record.another;
    bool const goes_on = alarm.id != 0 && (alarm.shelved_until || same);
    bool const soon = alarm.id != 0 && alarm.cleared && now - *alarm.cleared <= chatters_within;
    if (goes_on) {
        ++alarm.spells;
        alarm.cleared.reset();
    } else {
        record.returns = soon ? record.returns + 1 : 0;
        begin_occurrence(now, record);
    }
    alarm.text = record.text;
    alarm.action = record.action;
    alarm.can_wait = record.can_wait;
    alarm.muted_by = cause_of(record, records_, now);  // before it is active: nothing of it was told yet
    alarm.active = true;
    happens(now, AlarmEvent::occurs, record);
    bool const muted =
        alarm.state == AlarmState::suppressed_by_design || alarm.state == AlarmState::out_of_service;
    record.another = false;
    changed(now, muted ? Transition::suppressed : Transition::raised, record, out);
    if (is_worse(record)) return worsen(now, record, out);  // than when it was shelved, or went
    if (!muted) break_shelvings(now, Alarm(alarm), out);
}

void AlarmDesk::begin_occurrence(Instant now, AlarmRecord& record) {
    Alarm fresh;
    fresh.id = ++last_id_;
    fresh.type = record.alarm.type;
    fresh.subject = record.alarm.subject;
    fresh.state = record.alarm.state;
    // As it is told how long it lasts: the delay until it is raised is part of it.
    fresh.since = std::min(record.since.value_or(record.present_since.value_or(now)), now);
    fresh.priority = record.priority;
    fresh.grade = record.grade;
    fresh.worst = record.value;
    record.alarm = std::move(fresh);
    record.first_value = record.value;
    record.shown = false;
    record.retraction.clear();
    record.heard_since.reset();
    record.spoken.assign(record.spoken.size(), Spoken{});
}

void AlarmDesk::clear(Instant now, AlarmRecord& record, Effects& out) {
    Alarm& alarm = record.alarm;
    alarm.active = false;
    alarm.cleared = record.absent_since.value_or(now);
    alarm.muted_by.clear();
    record.recalled = false;
    happens(now, AlarmEvent::returns, record);
    changed(now, Transition::cleared, record, out);
}

void AlarmDesk::worsen(Instant now, AlarmRecord& record, Effects& out) {
    Alarm& alarm = record.alarm;
    record.lent = false;
    record.retraction.clear();
    alarm.priority = std::max(alarm.priority, record.priority);
    alarm.grade = std::max(alarm.grade, record.grade);
    // Another timer, another stage: how long it stands is said of the newest.
    if (alarm.type->prompt) alarm.since = came(now, record);
    // Who acknowledged it did not know this yet.
    alarm.acknowledged.reset();
    alarm.acknowledged_by.clear();
    if (alarm.shelved_until) unshelve(now, record, out);
    happens(now, AlarmEvent::worsens, record);
    changed(now, Transition::worsened, record, out);
    if (alarm.state == AlarmState::unacknowledged) break_shelvings(now, Alarm(alarm), out);
}

void AlarmDesk::mute(Instant now, AlarmRecord& record, Effects& out) {
    Alarm& alarm = record.alarm;
    if (!alarm.active) return;
    std::string_view const cause = cause_of(record, records_, now);
    if (cause == alarm.muted_by) return;
    bool const was = !alarm.muted_by.empty();
    if (was && cause.empty()) {
        // What has gone back meanwhile only waits for its off-delay: it is no news.
        if (record.truth == Truth::absent) return clear(now, record, out);
        // One cause has just ended and the next is about to be raised.
        if (record.alarm.state == AlarmState::suppressed_by_design &&
            !coming_cause_of(record, records_).empty())
            return;
    }
    alarm.muted_by = cause;
    if (!cause.empty() == was) return;  // another cause of the same silence
    happens(now, was ? AlarmEvent::unsuppressed : AlarmEvent::suppressed, record);
    if (alarm.state == AlarmState::out_of_service) return;  // silent before and after
    changed(now, was ? Transition::unsuppressed : Transition::suppressed, record, out);
    if (was) break_shelvings(now, Alarm(alarm), out);
}

// A cause that mutes something high is itself high: nobody is told less than before.
void AlarmDesk::lend_priority(Instant now, AlarmRecord const& muted, Effects& out) {
    auto const lend = [&](Subject subject) {
        auto const cause = records_.find({muted.alarm.muted_by, subject});
        if (cause == records_.end() || !cause->second.alarm.active) return;
        if (cause->second.alarm.priority >= priority_of(muted)) return;
        cause->second.priority = priority_of(muted);
        // What it says itself may be over: then what is worse is what the muted one says.
        if (cause->second.truth != Truth::present && muted.truth == Truth::present) {
            cause->second.alarm.text = muted.text;
            cause->second.borrowed_at = now;
        }
        worsen(now, cause->second, out);
        cause->second.lent = true;
    };
    if (priority_of(muted) < Priority::high) return;
    lend(muted.alarm.subject);
    for (int const probe : muted.probes) lend({SubjectKind::probe, probe});
}

void AlarmDesk::unshelve(Instant now, AlarmRecord& record, Effects& out) {
    Alarm& alarm = record.alarm;
    alarm.shelved_until.reset();
    if (alarm.active) {
        alarm.acknowledged.reset();
        alarm.acknowledged_by.clear();
    }
    happens(now, AlarmEvent::unshelved, record);
    changed(now, Transition::unshelved, record, out);
}

void AlarmDesk::break_shelvings(Instant now, Alarm const& worse, Effects& out) {
    for (auto& [key, record] : records_)
        if (record.alarm.shelved_until && breaks_shelving(record.alarm, worse)) unshelve(now, record, out);
}

void AlarmDesk::changed(Instant now, Transition transition, AlarmRecord& record, Effects& out) {
    record.updated_at = now;
    memory_changed_ = true;
    // What changes while it is not found to be so says what is known of it now, not what was told before.
    bool const old = record.alarm.active && record.truth != Truth::present;
    out.emplace_back(AlarmChanged{now, transition, old ? as_it_is(record, now) : record.alarm});
}

void AlarmDesk::finish(Effects& out) {
    if (memory_changed_) out.emplace_back(MemoryChanged{});
    memory_changed_ = false;
}

std::vector<Alarm> AlarmDesk::open() const {
    std::vector<Alarm> alarms;
    for (auto const& [key, record] : records_)
        if (record.alarm.id != 0 && record.alarm.state != AlarmState::normal)
            alarms.push_back(as_it_is(record, stepped_));
    std::sort(alarms.begin(), alarms.end(), [](Alarm const& a, Alarm const& b) { return a.id > b.id; });
    return alarms;
}

bool AlarmDesk::active(std::string_view alarm, Subject subject) const {
    auto const found = records_.find({alarm, subject});
    return found != records_.end() && found->second.alarm.active;
}

std::string AlarmDesk::found_text(std::string_view alarm, Subject subject) const {
    auto const found = records_.find({alarm, subject});
    return found != records_.end() && found->second.alarm.active ? found->second.alarm.text : "";
}

Action AlarmDesk::action_of(std::string_view alarm, Subject subject) const {
    auto const found = records_.find({alarm, subject});
    return found != records_.end() && found->second.alarm.active ? found->second.alarm.action : Action::none;
}

}  // namespace ingle
