// What a dish is going through, so that the right limits are judged. From what the plan says that a stage
// does, never from what somebody called it. Pure; any thread.
#pragma once

#include <optional>

#include "config/settings.hpp"

namespace ingle {

// The order is that of what is remembered over a restart: append only.
enum class FoodPhase {
    waiting,
    brining,
    cooking,
    resting,
    chilling,
    hot_holding,
    cold_holding,
    thawing,
    reheating
};

// Where the plan does not say what the stage does, or there is no plan, the vessel does: a fridge holds cold
// (or chills, if the stage waits for a core), a hot box holds hot, in a room the food waits; in all others it
// is cooked, unless the stage waits for a core that no cooking ends at. `where` empty: in no vessel.
FoodPhase food_phase(std::optional<Does> does, std::optional<VesselKind> where,
                     std::optional<Temperature> until_core = {});

std::string_view to_word(FoodPhase phase);  // as a plan says it: "hot-hold"; "wait" where nothing is done

bool is_cold_phase(FoodPhase phase);  // nothing heats the food
bool is_heated(FoodPhase phase);      // cooked or reheated
bool heats_core(FoodPhase phase);     // a core that it waits for is come to from below
// Cold holding is asked of the food: in the fridge, in brine and while it thaws.
bool is_held_cold(FoodPhase phase);

}  // namespace ingle
