// Which way to turn, and about how much, in a cook's words. Pure; any thread.
#pragma once

#include <string>

#include "config/settings.hpp"
#include "daemon/model/alarm.hpp"
#include "daemon/watches/words.hpp"

namespace ingle {

struct Drift {
    double level = 0;            // degC
    double slope = 0;            // K/s: that must be brought to nothing
    double target = 0;           // degC: where it should come to rest, the middle of its band
    double room = 20;            // degC
    double time_constant_s = 0;  // of this vessel, or its kind's usual one
};

// As it is, the vessel comes to rest at level + slope * time constant: too much (or too little) heat by as
// much as moves that to the target. What share of the heat this is: a chamber loses heat in proportion to its
// height above the room; an open pot loses far more with each kelvin, by evaporation (within some 18 K it
// loses twice as much at 85 degC, within 8 K near the boil: our own balance of evaporation and radiation).
std::string advice(VesselKind kind, Drift const& drift, Words const& words);

// The way that sentence turns: `none` where it only says where to look.
Action advised(VesselKind kind, bool rising);

// Whole heat moves the balance by this much, K; for tests.
double kelvin_of_whole_heat(VesselKind kind, double level, double room);

}  // namespace ingle
