// How a vessel has shown that it answers to more or less heat, learnt while it is watched. Plain values; what
// is empty was not learnt yet.
#pragma once

#include <optional>

namespace ingle {

struct VesselResponse {
    std::optional<double> time_constant_s;    // of its way to a new balance after a turn
    std::optional<double> lag_s;              // from the first sign of a turn to its full slope
    std::optional<double> turn_k;             // gain: by how many K the newest turns moved the balance
    std::optional<double> recovery_s;         // until it is back after its door was opened
    int settlings = 0, turns = 0, doors = 0;  // that were seen for it

    // From a turn until it has come to rest: nineteen parts in twenty of the way.
    std::optional<double> settling_s() const {
        if (!time_constant_s) return std::nullopt;
        return lag_s.value_or(0) + 3 * *time_constant_s;
    }
    bool any() const { return settlings + turns + doors > 0; }
};

}  // namespace ingle
