// What the medium around a dish does, and what it may be expected to do: a level, a transient that has begun
// with the food (a bath that was cooled by it, an oven that was opened), and how far both may be wrong. Pure.
#pragma once

#include "daemon/forecast/bank.hpp"

namespace ingle {

struct MediumLately {
    double mean = 0;              // of the newest tenth of the time, 10 min at least
    double earlier = 0;           // of as long a time before
    double expected = 0, sd = 0;  // of the time to come
    double transient = 0, fades_s = 1;

    MediumAhead ahead() const { return {expected, sd, transient, fades_s}; }
};
MediumLately medium_lately(History const& history);

}  // namespace ingle
