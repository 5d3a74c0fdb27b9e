// How long the best possible detector takes: a generalised likelihood ratio (Basseville and Nikiforov,
// Detection of Abrupt Changes, chapter 2 and 4) for a ramp of unknown onset and slope, in noise that it knows
// exactly because the simulator made it. What an alarm takes longer than this, at the same rate of false
// alarms, is the watch's own.
#pragma once

#include <string>
#include <vector>

#include "tests/scenarios/scenario.hpp"

namespace ingle::scenarios {

struct DelayRatio {
    std::string alarm, kind;
    double watch_s = 0, best_s = 0;  // medians of the delay from the onset
    double false_per_h = 0;          // at which both were set
    double noise_alone_s = 0;        // the best where nobody ever handles the pot or its probe
    int runs = 0;
    double ratio() const { return watch_s / best_s; }  // NaN, which is no success, without a run
};

// leaving-band, heat-lost and boil-over-risk, over this many seeds.
std::vector<DelayRatio> delay_ratios(int seeds);

}  // namespace ingle::scenarios
