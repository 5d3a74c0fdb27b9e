// The life cycle of every alarm (IEC 62682 / ISA-18.2) and what is told to whom. Findings and commands in,
// effects out. Owned by the kitchen. Pure: no I/O, no clock, no thread; the same calls give the same effects.
#pragma once

#include <algorithm>
#include <cstdint>
#include <set>
#include <span>
#include <string>
#include <string_view>
#include <vector>

#include "config/settings.hpp"
#include "daemon/alarms/inhibit.hpp"
#include "daemon/alarms/life_cycle.hpp"
#include "daemon/alarms/record.hpp"
#include "daemon/alarms/tell.hpp"
#include "daemon/model/command.hpp"
#include "daemon/model/effects.hpp"
#include "daemon/model/memory.hpp"
#include "daemon/watches/watch.hpp"

namespace ingle {

// What one watch says of one subject at this moment.
struct Judged {
    Subject subject;
    Finding finding;
    std::span<int const> probes{};  // that the subject is judged by; a fault alarm on one of them is a cause
    std::string_view muted_by{};    // suppressed by design: the event that may explain it; "" = not
};

class AlarmDesk {
public:
    // `types`: every alarm that can be raised; they outlive the desk. Names and channels from `settings`.
    AlarmDesk(Settings const& settings, std::vector<AlarmType const*> types);
    AlarmDesk(AlarmDesk&&) = default;  // not copied: it points into itself
    AlarmDesk& operator=(AlarmDesk&&) = default;

    // Once a second. What is not mentioned counts as Truth::unknown: it neither rises nor clears.
    void step(Instant now, std::span<Judged const> judged, Effects& out);

    void command(Instant now, Acknowledge const& command, Effects& out);
    void command(Instant now, Shelve const& command, Effects& out);  // longer than the cap = the cap
    void command(Instant now, OutOfService const& command, Effects& out);
    // What was told of it did not hold: good news may be told again.
    void tell_anew(Subject subject, std::string_view alarm);
    // The subject is over or begins anew (a cook ended): its alarms end without a notice, and good news may
    // be told again.
    void forget(Instant now, Subject subject, Effects& out);

    // Active, or returned and not acknowledged, or shelved; newest first.
    // Their texts say what holds as of the newest step.
    std::vector<Alarm> open() const;
    bool active(std::string_view alarm, Subject subject) const;
    Action action_of(std::string_view alarm,
                     Subject subject) const;  // none: not active, or it asks for nothing
    // What its watch said of it last, without whether it still holds; "": not active.
    std::string found_text(std::string_view alarm, Subject subject) const;
    // By these nothing goes out now: who is told after them need not wait.
    void channels_fail(Instant now, std::vector<std::string> const& names) {
        teller_.channels_fail(now, names);
    }
    bool out_of_service(Subject subject) const { return out_of_service_.contains(subject); }
    std::string what_is_out_of_service() const;  // as sentences, for the alarm that says so

    // Keys "alarm...". recall: before the first step. An alarm whose type is not known any more is dropped;
    // one whose subject is not in the kitchen file is kept for when it is again. The event "alarm-dropped"
    // says so, once.
    void remember(Memory& memory) const;
    // `patient`: some watch lacks the past that it judges by, so that what it does not find is not over yet.
    void recall(Instant now, Memory const& memory, Effects& out, bool patient = true);
    // Of an alarm of before a restart: that it is not found is no lack of knowledge.
    void is_known_to_be_over(std::string_view type, Subject subject);
    void number_from(std::int64_t last) { last_id_ = std::max(last_id_, last); }  // at least
    // A prompt that was told and never was so: `text` is told when it ends, if it does before it is raised
    // anew.
    void retract(std::string_view type, Subject subject, std::string text);
    // Of alarms that both have: when they were raised and how long they are shelved, as `other` has it.
    void correct_times(AlarmDesk const& other);

private:
    void note(Instant now, Judged const& judged, AlarmRecord& record);
    void live(Instant now, AlarmRecord& record, Effects& out);
    void raise(Instant now, AlarmRecord& record, Effects& out);
    void clear(Instant now, AlarmRecord& record, Effects& out);
    void worsen(Instant now, AlarmRecord& record, Effects& out);
    void mute(Instant now, AlarmRecord& record, Effects& out);
    void lend_priority(Instant now, AlarmRecord const& muted, Effects& out);
    void unshelve(Instant now, AlarmRecord& record, Effects& out);
    void break_shelvings(Instant now, Alarm const& worse, Effects& out);
    void happens(Instant now, AlarmEvent event, AlarmRecord& record);
    void silence(Instant now, AlarmRecord& record);
    void begin_occurrence(Instant now, AlarmRecord& record);
    void answer(Instant now, AlarmRecord& record, Effects& out);
    void changed(Instant now, Transition transition, AlarmRecord& record, Effects& out);
    void finish(Effects& out);
    AlarmRecord& record_of(AlarmType const& type, Subject subject);
    AlarmRecord* find(std::int64_t id);
    bool leave_behind(Memory const& memory, std::string const& key);

    // Of subjects that the kitchen file does not have: for when it has them again.
    struct Gone {
        struct OutOfService {
            std::string kind, name, by;
        };
        Memory alarms;
        std::size_t alarm_count = 0;
        std::vector<OutOfService> out_of_service;
    };

    Names names_;
    std::vector<AlarmType const*> types_;
    AlarmRecords records_;
    std::vector<AlarmRecord*> places_;               // into records_, by place among what is judged; hints
    std::map<Subject, std::string> out_of_service_;  // by whom; "": it is not told
    Gone gone_;
    Teller teller_;
    Instant stepped_{};  // the newest step
    std::int64_t last_id_ = 0;
    bool memory_changed_ = false;
};

}  // namespace ingle
