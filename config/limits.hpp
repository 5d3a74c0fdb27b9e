// What a band can be in a vessel, one rule for the kitchen file, its plans, `hold`, the API and `replay
// --set`. Pure; any thread.
#pragma once

#include <optional>
#include <string>

#include "config/settings.hpp"

namespace ingle {

struct BandMistake {
    std::string wrong;  // what is wrong
    std::string right;  // what would be right, or was probably meant
};

struct Limits {
    Temperature least, most;
    bool contain(Temperature t) const { return t >= least && t <= most; }
};

// Within these a band of this vessel can lie at all; for water also within what its boiling point allows.
Limits band_limits(VesselSettings const& vessel, Settings const& kitchen);

// What is wrong with holding this vessel at this band: its order, the limits above, a deadband as wide as the
// band, a probe whose plausible range does not contain the band and the way to it. Nothing: it can be held.
std::optional<BandMistake> mistake_in_band(Band band, VesselSettings const& vessel, Settings const& kitchen);

// Where water boils at this height or pressure with this much salt, degC; within 0.5 K of daemon/food's, from
// 500 hPa up, which is enough to tell degF from degC. Sea level where neither is given.
double rough_boiling_point(Settings const& kitchen, Fraction salt);

std::string both_units(Temperature t);  // "185 degF (85 degC)"

}  // namespace ingle
