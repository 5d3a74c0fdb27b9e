// The table of the life cycle, cell by cell, and that DEVELOPERS.md prints the same one. The states and the
// transitions between them are those of IEC 62682 / ISA-18.2 (from memory; the standard is not public).
#include "daemon/alarms/life_cycle.hpp"

#include <fstream>
#include <map>
#include <sstream>
#include <utility>

#include "tests/support/catch.hpp"

using namespace ingle;

namespace {

using enum AlarmState;
using E = AlarmEvent;

struct Expected {
    // Of an alarm whose condition holds: not acknowledged, acknowledged; and of one that has returned: seen
    // once and not acknowledged, settled.
    AlarmState active, active_seen, returned, settled;
    Told told = Told::nothing;
};
Expected always(AlarmState state, Told told = Told::nothing) {
    return {state, state, state, state, told};
}
Expected const whatever_holds{unacknowledged, acknowledged, returned_unacknowledged, normal};

// Written out by hand and complete: 7 states by 10 events.
std::map<AlarmState, std::map<AlarmEvent, Expected>> matrix() {
    auto const holds = [](Told told) {
        auto expected = whatever_holds;
        expected.told = told;
        return expected;
    };
    return {{normal,
             {{E::occurs, always(unacknowledged, Told::raised)},
              {E::returns, always(normal)},
              {E::worsens, always(normal)},
              {E::acknowledged, always(normal)},
              {E::shelved, always(normal)},
              {E::unshelved, always(normal)},
              {E::suppressed, always(normal)},
              {E::unsuppressed, always(normal)},
              {E::removed, always(normal)},
              {E::restored, always(normal)}}},
            {unacknowledged,
             {{E::occurs, always(unacknowledged)},
              {E::returns, always(returned_unacknowledged, Told::recovery)},
              {E::worsens, always(unacknowledged, Told::worse)},
              {E::acknowledged, always(acknowledged)},
              {E::shelved, always(shelved)},
              {E::unshelved, always(unacknowledged)},
              {E::suppressed, always(suppressed_by_design)},
              {E::unsuppressed, always(unacknowledged)},
              {E::removed, always(out_of_service)},
              {E::restored, always(unacknowledged)}}},
            {acknowledged,
             {{E::occurs, always(acknowledged)},
              {E::returns, always(normal, Told::recovery)},
              {E::worsens, always(unacknowledged, Told::worse)},
              {E::acknowledged, always(acknowledged)},
              {E::shelved, always(shelved)},
              {E::unshelved, always(acknowledged)},
              {E::suppressed, always(suppressed_by_design)},
              {E::unsuppressed, always(acknowledged)},
              {E::removed, always(out_of_service)},
              {E::restored, always(acknowledged)}}},
            {returned_unacknowledged,
             {{E::occurs, always(unacknowledged, Told::raised)},
              {E::returns, always(returned_unacknowledged)},
              {E::worsens, always(returned_unacknowledged)},
              {E::acknowledged, always(normal)},
              {E::shelved, always(shelved)},
              {E::unshelved, always(returned_unacknowledged)},
              {E::suppressed, always(returned_unacknowledged)},
              {E::unsuppressed, always(returned_unacknowledged)},
              {E::removed, always(returned_unacknowledged)},
              {E::restored, always(returned_unacknowledged)}}},
            {shelved,
             {{E::occurs, always(shelved)},
              {E::returns, always(shelved)},
              {E::worsens, always(unacknowledged, Told::worse)},
              {E::acknowledged, always(shelved)},
              {E::shelved, always(shelved)},
              {E::unshelved, holds(Told::again)},
              {E::suppressed, always(shelved)},
              {E::unsuppressed, always(shelved)},
              {E::removed, always(shelved)},
              {E::restored, always(shelved)}}},
            {suppressed_by_design,
             {{E::occurs, always(suppressed_by_design)},
              {E::returns, holds(Told::recovery)},
              {E::worsens, always(suppressed_by_design)},
              {E::acknowledged, always(suppressed_by_design)},
              {E::shelved, always(shelved)},
              {E::unshelved, always(suppressed_by_design)},
              {E::suppressed, always(suppressed_by_design)},
              {E::unsuppressed, holds(Told::raised)},
              {E::removed, always(out_of_service)},
              {E::restored, always(suppressed_by_design)}}},
            {out_of_service,
             {{E::occurs, always(out_of_service)},
              {E::returns, holds(Told::recovery)},
              {E::worsens, always(out_of_service)},
              {E::acknowledged, always(out_of_service)},
              {E::shelved, always(shelved)},
              {E::unshelved, always(out_of_service)},
              {E::suppressed, always(out_of_service)},
              {E::unsuppressed, always(out_of_service)},
              {E::removed, always(out_of_service)},
              {E::restored, holds(Told::again)}}}};
}

}  // namespace

TEST_CASE("the life cycle: every state by every event") {
    auto const expected = matrix();
    CHECK(expected.size() == 7);
    CHECK(all_alarm_states.size() == 7);
    CHECK(all_alarm_events.size() == 10);
    for (auto const state : all_alarm_states) {
        REQUIRE(expected.at(state).size() == all_alarm_events.size());
        for (auto const event : all_alarm_events) {
            CAPTURE(to_word(state), to_word(event));
            auto const& cell = expected.at(state).at(event);
            std::pair<WhatHolds, AlarmState> const ways[] = {{{true, false, true}, cell.active},
                                                             {{true, true, false}, cell.active_seen},
                                                             {{false, false, true}, cell.returned},
                                                             {{false, true, false}, cell.settled}};
            for (auto const& [holding, then] : ways) {
                auto const step = life_step(state, event, holding);
                CHECK(to_word(step.state) == to_word(then));
                CHECK(to_word(step.told) == to_word(cell.told));
            }
        }
    }
}

TEST_CASE("DEVELOPERS.md prints the table of the life cycle") {
    std::string table = "| in this state | ";
    for (auto const event : all_alarm_events) table += std::string(to_word(event)) + " | ";
    table += "\n|---|";
    for (std::size_t i = 0; i < all_alarm_events.size(); ++i) table += "---|";
    table += "\n";
    for (auto const state : all_alarm_states) {
        table += "| " + std::string(to_word(state)) + " | ";
        for (auto const event : all_alarm_events) table += life_cell(state, event) + " | ";
        table += "\n";
    }
    std::ifstream file(TEST_SOURCE "/DEVELOPERS.md");
    std::stringstream text;
    text << file.rdbuf();
    auto squeezed = [](std::string const& from) {
        std::string out;
        for (char const c : from)
            if (c != ' ') out += c;
        return out;
    };
    CAPTURE(table);
    CHECK(squeezed(text.str()).find(squeezed(table)) != std::string::npos);
}
