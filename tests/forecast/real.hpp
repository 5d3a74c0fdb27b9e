// Measured cooks: tests/forecast/data, each with its source in its first lines.
#pragma once

#include "tests/forecast/cooks.hpp"

namespace ingle::bench {

struct RealCook {
    char const* name;
    SimulatedCook cook;  // not simulated: read at the hand's times, straight lines between
};
std::vector<RealCook> real_cooks();

}  // namespace ingle::bench
