// How the bank's own quantiles are to be read so that 80 % of the truth lies inside of what is told as 80 %:
// it is surer than it may be, and errs to one side early and to the other late. Pure.
#pragma once

#include <array>

#include "daemon/forecast/prior.hpp"

namespace ingle {

// Quantiles 10, 25, 50, 75 and 90 % of what is left, in half-widths of the bank's own 80 % interval on that
// side, from the bank's median on.
using Reading = std::array<double, 5>;
// `progress`: elapsed time as a share of the whole that is expected.
Reading reading_of_bank(bool heating, Surroundings where, double progress);

}  // namespace ingle
