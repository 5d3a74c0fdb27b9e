// What the sources of the judge of a core probe have in common. Common practice, no source.
#pragma once

#include "daemon/food/phase.hpp"

namespace ingle {

constexpr double core_noise_k = 2;          // of a whole-degree instrument, with its resolution
constexpr double core_settle_s = 60;        // slow for so long, and it is looked at again
constexpr double core_settled_k = 1;        // what is no movement of it
constexpr double core_near_k = 3;           // of its last level, after a move
constexpr double core_quicker_share = 1.5;  // than it was: it may have been so between
// Twice the slowest rhythm; and what no heat is worth anything below.
constexpr double unseen_s = 600, credited_c = 50;

// Something good may be told of a core that comes to this from below.
inline bool credits(double celsius, FoodPhase phase) {
    return phase != FoodPhase::chilling && !is_held_cold(phase) && celsius >= credited_c;
}

}  // namespace ingle
