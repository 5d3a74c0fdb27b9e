// What the desk remembers across a restart. Subjects and channels go by name: the kitchen file may have
// changed.
#include <algorithm>
#include <array>
#include <cstdlib>
#include <string>

#include "daemon/alarms/alarm_desk.hpp"

namespace ingle {

namespace {

std::string const last_key = "alarm.last";
std::string const out_prefix = "alarm.out.";
std::string const prefix = "alarm.at.";
constexpr std::size_t most_gone = 100;
// Where it is not known how long ago it was shelved, the alarm is back too early rather than too late.
constexpr Span as_of_older = std::chrono::hours(24 * 3650);

template <class E, std::size_t N>
std::optional<E> from_word(std::array<E, N> const& all, std::optional<std::string> const& word) {
    for (E const e : all)
        if (word && to_word(e) == *word) return e;
    return std::nullopt;
}
std::optional<Priority> priority_from(std::optional<std::string> const& word) {
    return from_word(std::array{Priority::low, Priority::medium, Priority::high}, word);
}
std::optional<SubjectKind> kind_from(std::optional<std::string> const& word) {
    return from_word(
        std::array{SubjectKind::kitchen, SubjectKind::probe, SubjectKind::vessel, SubjectKind::dish}, word);
}

void put(Memory& memory, std::string const& key, std::optional<Instant> at) {
    if (at) memory.put(key, *at);
}
void put(Memory& memory, std::string const& key, bool yes) {
    if (yes) memory.put(key, std::int64_t{1});
}
bool get(Memory const& memory, std::string const& key) {
    return memory.integer(key).value_or(0) != 0;
}

}  // namespace

void AlarmDesk::remember(Memory& memory) const {
    for (auto const& [key, text] : gone_.alarms.all()) memory.put(key, text);
    memory.put(last_key, last_id_);
    int n = 0;
    for (auto const& [subject, by] : out_of_service_) {
        std::string const key = out_prefix + std::to_string(n++) + ".";
        memory.put(key + "kind", std::string(to_word(subject.kind)));
        memory.put(key + "name", names_.of(subject));
        memory.put(key + "by", by);
    }
    for (auto const& gone : gone_.out_of_service) {
        std::string const key = out_prefix + std::to_string(n++) + ".";
        memory.put(key + "kind", gone.kind);
        memory.put(key + "name", gone.name);
        memory.put(key + "by", gone.by);
    }
    for (auto const& [place, record] : records_) {
        Alarm const& alarm = record.alarm;
        bool untold = false;  // a recovery that somebody waits for
        for (Spoken const& s : record.spoken) untold = untold || s.raised;
        if (alarm.id == 0) continue;
        bool const answered = record.announced || record.answered > 0;
        if (alarm.state == AlarmState::normal && !untold && !answered) continue;
        std::string const key = prefix + std::to_string(alarm.id) + ".";
        memory.put(key + "type", std::string(alarm.type->name));
        memory.put(key + "kind", std::string(to_word(alarm.subject.kind)));
        memory.put(key + "name", names_.of(alarm.subject));
        memory.put(key + "priority", std::string(to_word(alarm.priority)));
        memory.put(key + "grade", std::int64_t{alarm.grade});
        memory.put(key + "variant", std::int64_t{record.variant});
        memory.put(key + "text", alarm.text);
        memory.put(key + "action", std::string(to_word(alarm.action)));
        if (!record.order.empty()) memory.put(key + "order", record.order);
        if (!record.retraction.empty()) memory.put(key + "retraction", record.retraction);
        memory.put(key + "since", alarm.since);
        put(memory, key + "cleared", alarm.cleared);
        put(memory, key + "acknowledged", alarm.acknowledged);
        memory.put(key + "by", alarm.acknowledged_by);
        put(memory, key + "shelved", alarm.shelved_until);
        memory.put(key + "muted", alarm.muted_by);
        put(memory, key + "by-design", record.design_since);
        memory.put(key + "worst", alarm.worst);
        if (record.first_value) memory.put(key + "first", *record.first_value);
        memory.put(key + "spells", static_cast<std::int64_t>(alarm.spells));
        memory.put(key + "returns", std::int64_t{record.returns});
        memory.put(key + "answered", std::int64_t{record.answered});
        put(memory, key + "active", alarm.active);
        put(memory, key + "absent", record.absent_since);
        put(memory, key + "shown", record.shown);
        put(memory, key + "announced", record.announced);
        put(memory, key + "heard", record.heard_since);
        for (std::size_t c = 0; c < record.spoken.size(); ++c) {
            Spoken const& spoken = record.spoken[c];
            if (!spoken.raised) continue;
            std::string const told = key + "told." + teller_.channels()[c].name + ".";
            memory.put(told + "at", spoken.at);
            memory.put(told + "priority", std::string(to_word(spoken.priority)));
            memory.put(told + "grade", std::int64_t{spoken.grade});
            memory.put(told + "repeats", static_cast<std::int64_t>(spoken.repeats));
            put(memory, told + "again", spoken.again);
        }
    }
}

// An alarm of what the kitchen file does not have: kept for when it is there again. Answers whether that was
// told before.
bool AlarmDesk::leave_behind(Memory const& memory, std::string const& key) {
    bool const told_before = get(memory, key + "gone");
    if (gone_.alarm_count++ >= most_gone) return told_before;
    for (auto at = memory.first_with(key); at != memory.all().end() && at->first.starts_with(key); ++at)
        gone_.alarms.put_as_in(memory, at->first);
    gone_.alarms.put(key + "gone", std::int64_t{1});
    return told_before;
}

void AlarmDesk::recall(Instant now, Memory const& memory, Effects& out, bool patient) {
    number_from(memory.integer(last_key).value_or(0));
    for (int n = 0;; ++n) {
        std::string const key = out_prefix + std::to_string(n) + ".";
        auto const kind = kind_from(memory.text(key + "kind"));
        auto const name = memory.text(key + "name");
        if (!kind || !name) break;
        if (*kind == SubjectKind::kitchen) continue;  // an earlier version took it out of service whole
        auto const by = memory.text(key + "by").value_or("somebody");
        if (auto const subject = names_.find(*kind, *name))
            out_of_service_.emplace(*subject, by);
        else if (gone_.out_of_service.size() < most_gone)
            gone_.out_of_service.push_back({std::string(to_word(*kind)), *name, by});
    }
    for (auto at = memory.first_with(prefix); at != memory.all().end() && at->first.starts_with(prefix);
         ++at) {
        std::size_t const end = at->first.find('.', prefix.size());
        if (end == std::string::npos || at->first.substr(end) != ".type") continue;
        std::string const key = at->first.substr(0, end + 1);
        auto const kind = kind_from(memory.text(key + "kind"));
        auto const name = memory.text(key + "name");
        auto const subject = kind && name ? names_.find(*kind, *name) : std::nullopt;
        auto const type = std::find_if(types_.begin(), types_.end(),
                                       [&](AlarmType const* t) { return t->name == at->second; });
        auto const since = memory.instant(key + "since");
        if (!subject || type == types_.end() || !since) {
            if (!subject && leave_behind(memory, key)) continue;
            auto const priority = priority_from(memory.text(key + "priority")).value_or(Priority::low);
            // What was to be done about a dish that did not cook is not to be done any more.
            bool const at_rest = kind == SubjectKind::dish && priority < Priority::high && name &&
                                 memory.integer("dish." + *name + ".cook.begun") == 0;
            bool const stood = get(memory, key + "active") && priority > Priority::low && !at_rest;
            out.emplace_back(
                Event{now,
                      "alarm-dropped",
                      Subject{},
                      at->second + " of " + name.value_or("?") +
                          " was open before the restart and is not part of this kitchen any more",
                      {{"stood", stood ? 1.0 : 0.0}}});
            continue;
        }

        AlarmRecord& record = record_of(**type, *subject);
        Alarm& alarm = record.alarm;
        alarm.id = std::atoll(key.c_str() + prefix.size());
        last_id_ = std::max(last_id_, alarm.id);
        alarm.priority = priority_from(memory.text(key + "priority")).value_or((*type)->priority);
        alarm.grade = static_cast<int>(memory.integer(key + "grade").value_or(0));
        record.variant = static_cast<int>(memory.integer(key + "variant").value_or(0));
        alarm.text = memory.text(key + "text").value_or("");
        alarm.action = action_from(memory.text(key + "action").value_or("")).value_or(Action::none);
        alarm.since = *since;
        alarm.cleared = memory.instant(key + "cleared");
        alarm.acknowledged = memory.instant(key + "acknowledged");
        alarm.acknowledged_by = memory.text(key + "by").value_or("");
        alarm.shelved_until = memory.instant(key + "shelved", as_of_older);
        alarm.muted_by = memory.text(key + "muted").value_or("");
        record.design_since = memory.instant(key + "by-design");
        alarm.worst = memory.number(key + "worst").value_or(0);
        record.first_value = memory.number(key + "first");
        alarm.spells = static_cast<int>(memory.integer(key + "spells").value_or(1));
        record.returns = static_cast<int>(memory.integer(key + "returns").value_or(0));
        record.answered = static_cast<int>(memory.integer(key + "answered").value_or(0));
        alarm.active = get(memory, key + "active");
        record.absent_since = memory.instant(key + "absent");
        // What others tell the kitchen of is told again within minutes, unless its end was told already.
        bool const may_be_told_again = subject->kind == SubjectKind::kitchen && !record.absent_since;
        record.recalled =
            alarm.active && (subject->kind == SubjectKind::kitchen ? may_be_told_again : patient);
        record.text = alarm.text;
        record.action = alarm.action;
        record.order = memory.text(key + "order").value_or("");
        record.retraction = memory.text(key + "retraction").value_or("");
        record.priority = alarm.priority;
        record.grade = alarm.grade;
        record.shown = get(memory, key + "shown");
        record.announced = get(memory, key + "announced");
        record.heard_since = memory.instant(key + "heard");
        for (std::size_t c = 0; c < record.spoken.size(); ++c) {
            std::string const told = key + "told." + teller_.channels()[c].name + ".";
            auto const when = memory.instant(told + "at");
            if (!when) {
                if (alarm.active) teller_.untold_since(c, *since);
                continue;
            }
            auto const whole = [&](char const* item) {
                return static_cast<int>(memory.integer(told + item).value_or(0));
            };
            record.spoken[c] = {true,
                                *when,
                                priority_from(memory.text(told + "priority")).value_or(alarm.priority),
                                whole("grade"),
                                whole("repeats"),
                                get(memory, told + "again")};
        }
        bool const unseen = record.shown && !alarm.acknowledged && !alarm.type->good_news;
        alarm.state = alarm.shelved_until
                          ? AlarmState::shelved
                          : state_that_holds({alarm.active, alarm.acknowledged.has_value(), unseen});
        silence(record.heard_since.value_or(*since), record);
    }
}

void AlarmDesk::is_known_to_be_over(std::string_view type, Subject subject) {
    for (auto& [place, record] : records_)
        if (record.alarm.type->name == type && record.alarm.subject == subject) record.recalled = false;
}

void AlarmDesk::retract(std::string_view type, Subject subject, std::string text) {
    auto const found = records_.find(AlarmKey{type, subject});
    if (found != records_.end() && found->second.alarm.active) found->second.retraction = std::move(text);
}

void AlarmDesk::correct_times(AlarmDesk const& other) {
    for (auto const& [place, right] : other.records_) {
        auto const mine = records_.find(place);
        if (mine == records_.end() || mine->second.alarm.id != right.alarm.id) continue;
        auto& alarm = mine->second.alarm;
        alarm.since = right.alarm.since;
        if (alarm.shelved_until && right.alarm.shelved_until) alarm.shelved_until = right.alarm.shelved_until;
    }
}

}  // namespace ingle
