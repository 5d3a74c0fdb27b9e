#include "daemon/alarms/life_cycle.hpp"

#include <algorithm>
#include <optional>
#include <string>

namespace ingle {

namespace {

struct Row {
    AlarmState in{};
    AlarmEvent on{};
    std::optional<AlarmState> to;  // empty: what holds then, see state_that_holds
    Told told = Told::nothing;
};

constexpr auto normal = AlarmState::normal;
constexpr auto unacknowledged = AlarmState::unacknowledged;
constexpr auto acknowledged = AlarmState::acknowledged;
constexpr auto returned = AlarmState::returned_unacknowledged;
constexpr auto shelved = AlarmState::shelved;
constexpr auto suppressed = AlarmState::suppressed_by_design;
constexpr auto out_of_service = AlarmState::out_of_service;
constexpr std::nullopt_t what_holds = std::nullopt;

constexpr Row table[] = {
    {normal, AlarmEvent::occurs, unacknowledged, Told::raised},

    {unacknowledged, AlarmEvent::returns, returned, Told::recovery},
    {unacknowledged, AlarmEvent::worsens, unacknowledged, Told::worse},
    {unacknowledged, AlarmEvent::acknowledged, acknowledged},
    {unacknowledged, AlarmEvent::shelved, shelved},
    {unacknowledged, AlarmEvent::suppressed, suppressed},
    {unacknowledged, AlarmEvent::removed, out_of_service},

    {acknowledged, AlarmEvent::returns, normal, Told::recovery},
    {acknowledged, AlarmEvent::worsens, unacknowledged, Told::worse},
    {acknowledged, AlarmEvent::shelved, shelved},
    {acknowledged, AlarmEvent::suppressed, suppressed},
    {acknowledged, AlarmEvent::removed, out_of_service},

    {returned, AlarmEvent::occurs, unacknowledged, Told::raised},
    {returned, AlarmEvent::acknowledged, normal},
    {returned, AlarmEvent::shelved, shelved},

    {shelved, AlarmEvent::worsens, unacknowledged, Told::worse},
    {shelved, AlarmEvent::unshelved, what_holds, Told::again},

    {suppressed, AlarmEvent::returns, what_holds, Told::recovery},
    {suppressed, AlarmEvent::unsuppressed, what_holds, Told::raised},
    {suppressed, AlarmEvent::shelved, shelved},
    {suppressed, AlarmEvent::removed, out_of_service},

    {out_of_service, AlarmEvent::returns, what_holds, Told::recovery},
    {out_of_service, AlarmEvent::restored, what_holds, Told::again},
    {out_of_service, AlarmEvent::shelved, shelved},
};

Row const* row_of(AlarmState state, AlarmEvent event) {
    auto const row =
        std::ranges::find_if(table, [&](Row const& r) { return r.in == state && r.on == event; });
    return row == std::end(table) ? nullptr : row;
}

}  // namespace

std::string_view to_word(AlarmEvent event) {
    switch (event) {
        case AlarmEvent::occurs:
            return "occurs";
        case AlarmEvent::returns:
            return "returns";
        case AlarmEvent::worsens:
            return "worsens";
        case AlarmEvent::acknowledged:
            return "acknowledged";
        case AlarmEvent::shelved:
            return "shelved";
        case AlarmEvent::unshelved:
            return "unshelved";
        case AlarmEvent::suppressed:
            return "suppressed";
        case AlarmEvent::unsuppressed:
            return "unsuppressed";
        case AlarmEvent::removed:
            return "removed";
        case AlarmEvent::restored:
            return "restored";
    }
    return "occurs";
}

std::string_view to_word(Told told) {
    switch (told) {
        case Told::nothing:
            return "nothing";
        case Told::raised:
            return "raised";
        case Told::worse:
            return "worse";
        case Told::recovery:
            return "recovery";
        case Told::again:
            return "again";
    }
    return "nothing";
}

AlarmState state_that_holds(WhatHolds holding) {
    if (holding.active) return holding.acknowledged ? acknowledged : unacknowledged;
    return holding.unseen ? returned : normal;
}

LifeStep life_step(AlarmState state, AlarmEvent event, WhatHolds holding) {
    auto const* const row = row_of(state, event);
    if (!row) return {state, Told::nothing};
    return {row->to ? *row->to : state_that_holds(holding), row->told};
}

std::string life_cell(AlarmState state, AlarmEvent event) {
    auto const* const row = row_of(state, event);
    if (!row) return "";
    std::string cell(row->to ? to_word(*row->to) : "what holds");
    if (row->told != Told::nothing) cell.append("; told: ").append(to_word(row->told));
    return cell;
}

}  // namespace ingle
