// At what level a medium that swings stands on the whole, and how surely that is known. Pure.
#pragma once

#include "daemon/forecast/history.hpp"
#include "daemon/forecast/prior.hpp"

namespace ingle {

struct MediumLevel {
    double mean = 0;    // degC, of the newest time that is all of one level
    double within = 0;  // K: the true one is no farther off, whenever one looks, in 98 of 100 cooks
    double rise = 0;    // of it from the older to the newer half of that time, K
    double best = 0;    // what a quarter of its readings in that time are beyond, towards a target
    double judged_s = 0;
    double certain_after_s = 0;  // a medium that fell is at first one whose door was opened
    bool certain() const { return judged_s >= certain_after_s; }
};
// From means over 20 min; one alone that is far off is a door. `cooling`: a liquid is then ice water.
MediumLevel medium_level(History const& history, Surroundings where, bool cooling);

}  // namespace ingle
