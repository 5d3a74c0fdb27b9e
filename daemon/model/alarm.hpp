// Alarms as IEC 62682 / ISA-18.2 name their parts. Plain values.
#pragma once

#include <cstdint>
#include <optional>
#include <span>
#include <string>
#include <string_view>

#include "config/settings.hpp"
#include "daemon/model/subject.hpp"
#include "drivers/reading/clock.hpp"

namespace ingle {

// What an alarm asks of the cook (IEC 62682: operator action), so that two of them can be held against each
// other. Of a vessel and what is in it: raise_heat and lower_heat, of whatever warms or cools it.
enum class Action { none, raise_heat, lower_heat, chill, reheat, discard };
// One undoes the other: warmer and colder, or anything but `none` beside `discard`.
bool opposed(Action a, Action b);
std::string_view to_word(Action action);                   // "raise-heat"
std::optional<Action> action_from(std::string_view word);  // the inverse; empty: no such word

// A kind of alarm, declared beside the watch that raises it; lives as long as the program.
struct AlarmType {
    std::string_view name;  // "leaving-band": the contract's word
    Priority priority = Priority::medium;
    Span on_delay{0};   // present for this long before it is raised
    Span off_delay{0};  // absent for this long before it returns to normal
    // While one of these is active for the same subject (or for a probe that the subject is judged by), this
    // alarm is suppressed: its cause is already told.
    std::span<std::string_view const> suppressed_by{};
    bool tells_inside = false;  // its text goes on with how warm the dishes inside the vessel are
    bool good_news = false;     // core-target: told, never escalated
    bool judges_food = false;   // by a published rule: its notice ends with food_safety_caution
    // What was waited for has come (timer-over): told, reminded of and escalated like any other, and over as
    // soon as somebody acknowledges it. Its end is not told.
    bool prompt = false;
    bool value_is_celsius = false;  // Finding::value is a temperature: the all-clear says the furthest one
    // What the all-clear says of its subject: "is no longer above its band". Of a prompt and of good news
    // none is told.
    std::string_view over{};
    // By the cook, for its time: a channel's quiet hours do not hold it back, unless the alarm can wait.
    bool asked_for = false;
};

enum class AlarmState {
    normal,
    unacknowledged,
    acknowledged,
    returned_unacknowledged,
    shelved,
    suppressed_by_design,
    out_of_service
};

struct Alarm {
    std::int64_t id = 0;  // of this occurrence: grows by one with each, never reused, survives restarts
    AlarmType const* type = nullptr;
    Subject subject;
    AlarmState state = AlarmState::normal;
    bool active = false;  // the condition holds (also while shelved)
    Priority priority = Priority::medium;
    int grade = 0;                   // Finding::grade, the highest of this occurrence
    std::string text;                // the newest explanation: measured, how fast, when, which way, source
    Instant since{};                 // when this occurrence began: before its on-delay
    std::optional<Instant> cleared;  // when it returned to normal
    std::optional<Instant> acknowledged;
    std::string acknowledged_by;
    std::optional<Instant> shelved_until;
    std::string muted_by;          // name of the alarm that suppresses it; "" = none
    double worst = 0;              // the furthest value of this spell, degC (or what the watch says)
    int spells = 1;                // raises folded into this one (chattering)
    Action action = Action::none;  // that `text` asks for
    bool can_wait = false;         // what `text` says goes on without anybody
};

std::string_view to_word(AlarmState state);
std::string_view to_word(Priority priority);
std::string_view to_word(SubjectKind kind);

}  // namespace ingle
