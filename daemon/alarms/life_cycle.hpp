// The life cycle of an alarm (IEC 62682 / ISA-18.2) as one table: in each state, what each event makes of it
// and what is told. The same table stands in DEVELOPERS.md; a test compares the two. Pure.
#pragma once

#include <array>
#include <string>
#include <string_view>

#include "daemon/model/alarm.hpp"

namespace ingle {

enum class AlarmEvent {
    occurs,        // the condition has held for the on-delay
    returns,       // it has not held for the off-delay
    worsens,       // it holds with a higher priority or grade
    acknowledged,  // somebody has seen it
    shelved,
    unshelved,  // by its end, by a person, or broken by something worse
    suppressed,
    unsuppressed,  // its cause has gone, or may not suppress it any longer
    removed,       // its subject was taken out of service
    restored       // and is back
};
inline constexpr std::array all_alarm_events{
    AlarmEvent::occurs,  AlarmEvent::returns,   AlarmEvent::worsens,    AlarmEvent::acknowledged,
    AlarmEvent::shelved, AlarmEvent::unshelved, AlarmEvent::suppressed, AlarmEvent::unsuppressed,
    AlarmEvent::removed, AlarmEvent::restored,
};
inline constexpr std::array all_alarm_states{
    AlarmState::normal,         AlarmState::unacknowledged,
    AlarmState::acknowledged,   AlarmState::returned_unacknowledged,
    AlarmState::shelved,        AlarmState::suppressed_by_design,
    AlarmState::out_of_service,
};

enum class Told {
    nothing,
    raised,    // to every channel that carries it
    worse,     // to those who know of it; to the others it is raised
    recovery,  // to those who know of it
    again      // it was silenced and still holds: to those who know of it; to the others it is raised
};

std::string_view to_word(AlarmEvent event);
std::string_view to_word(Told told);

// What a silence leaves behind when it ends.
struct WhatHolds {
    bool active = false;        // the condition holds
    bool acknowledged = false;  // this occurrence was acknowledged
    bool unseen = false;        // it could be heard, and nobody has acknowledged it
};
AlarmState state_that_holds(WhatHolds holding);

struct LifeStep {
    AlarmState state{};
    Told told = Told::nothing;
};
// An event that the table does not name in this state changes nothing and tells nothing.
LifeStep life_step(AlarmState state, AlarmEvent event, WhatHolds holding);

// "unacknowledged, told: worse"; "what holds" where it depends on WhatHolds; "" where nothing changes.
std::string life_cell(AlarmState state, AlarmEvent event);

constexpr bool is_silenced(AlarmState state) {
    return state == AlarmState::shelved || state == AlarmState::suppressed_by_design ||
           state == AlarmState::out_of_service;
}

}  // namespace ingle
