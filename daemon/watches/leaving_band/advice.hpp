// Which way to turn, and about how much, in a cook's words. Pure; any thread.
#pragma once

#include <string>

#include "config/settings.hpp"

namespace ingle {

// `slope` K/s that must be brought to nothing at `level` degC in a room of `room` degC. A vessel at rest
// loses as much heat as it gets, in proportion to its height above the room; a slope b that a time constant
// tau would carry to level + b*tau is too much (or too little) heat by b*tau / (level - room).
// `time_constant_s`: what this vessel has shown; 0 = not known, the kind's usual one is taken.
std::string advice(VesselKind kind, double slope, double level, double room, double time_constant_s = 0);

}  // namespace ingle
