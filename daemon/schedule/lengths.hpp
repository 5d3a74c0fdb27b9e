// How long a stage lasts, before it was read: what the plan says, what past cooks took, what heat needs to
// come to the core; and what is not known, which is said. Pure.
#pragma once

#include <optional>
#include <span>
#include <string>

#include "config/settings.hpp"
#include "daemon/food/phase.hpp"
#include "daemon/forecast/planned_time.hpp"

namespace ingle::schedule {

struct StageLength {                       // s
    double likely = 0, low = 0, high = 0;  // one of two, one of ten and nine of ten are shorter
    std::string source;
    bool known = true;        // false: `likely` is only what the plan asks at least
    bool impossible = false;  // a medium of that temperature never brings the core there
    bool exact() const { return known && low == high; }
};

struct StageFacts {
    DishSettings const& dish;
    StageSettings const& stage;
    VesselSettings const* vessel = nullptr;  // empty: none
    double start_c = 0;                      // the core at its begin
    std::span<double const> past{};          // lengths of this stage in this vessel in past cooks, s
    PlannedTimes* times = nullptr;
};

struct StageSoFar {  // of the stage that runs; s, degC
    double passed = 0;
    bool over = false, core_there = false;
    bool unread = false;               // its time stands still
    std::optional<double> clock_left;  // of the time that it waits for
    std::optional<double> core_c;
    std::optional<double> left, left_low, left_high;  // until the core is there, as it is forecast
    bool last_heat = false;                           // no stage after it is to bring the core there
};

FoodPhase phase_of(StageSettings const& stage, VesselSettings const* vessel);
// May a dish stay in such a stage for longer than it must? Where it is held hot or cold, or chills.
bool may_wait(FoodPhase phase);
StageLength length_of(StageFacts const& facts);
// What is left of it: what was read before what was expected. `whole` is the length_of it.
StageLength left_of(StageFacts const& facts, StageLength const& whole, StageSoFar const& so_far);
// The core when it comes out of the stage, degC.
double core_after(StageFacts const& facts);
// Before its first stage: from the fridge, or frozen where it is thawed first. Common practice, no source.
double first_core(FoodPhase first);

}  // namespace ingle::schedule
