// Which pressures the air of a kitchen can have. Pure; any thread.
#pragma once

#include "config/quantity.hpp"

namespace ingle {

// From some 6000 m of altitude to below the Dead Sea in a high; outside, a weather report's unit was misread.
inline constexpr Pressure least_station_pressure{45'000}, most_station_pressure{110'000};
inline constexpr char station_pressure_range[] = "the station pressure, from 450 hPa to 1100 hPa";

constexpr bool is_station_pressure(Pressure pressure) {
    return pressure >= least_station_pressure && pressure <= most_station_pressure;  // false of not-a-number
}

}  // namespace ingle
