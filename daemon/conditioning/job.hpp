// What a probe is used for, and what follows from that. Pure; any thread.
#pragma once

#include <utility>

#include "config/settings.hpp"

namespace ingle {

enum class ProbeJob { liquid, smoker, oven, fridge, hot_box, room, core, unknown };

// In this kitchen. A dish's core wins over a vessel's medium.
ProbeJob job_of(Settings const& settings, int probe);

// Outside of this a reading is the probe's fault, not the food's: degC, low and high. Our own choice: what
// that job can show on a bad day (a pot runs dry, a joint is frozen, the yard is cold). Contains every band
// that config/limits allows, with air around it.
std::pair<double, double> plausible_range(ProbeJob job);

struct Liveliness {
    double slope_walk;    // how fast the slope wanders, K²/s³
    double slope_change;  // sd of a sudden change of slope, K/s
    double fast;          // K/s that it cannot do by itself: faster is a probe, a door or a ladle
};
// Judgement: a pot's slope wanders by some 0.3 K/min in five minutes; an oven's thermostat is far livelier,
// the heart of a roast far calmer. Two litres of oil on 2 kW, or a litre of milk, climb by half a kelvin a
// second.
Liveliness liveliness(ProbeJob job);

}  // namespace ingle
