#include "tools/cli/probe/bath.hpp"

#include <algorithm>

#include "config/station_pressure.hpp"
#include "daemon/food/boiling.hpp"

namespace ingle::cli {
namespace {

constexpr char const* side_by_side = "Hold both tips side by side in one stirred bath.";

Bath boiling_water(Surroundings const& around) {
    std::optional<Temperature> point;
    std::string where;
    if (!around.pressure.empty()) {
        auto const pressure = parsed(around.pressure, "--pressure", parse_pressure);
        if (!is_station_pressure(pressure))
            throw Failure(std::string("--pressure is no pressure of the air: ") + station_pressure_range,
                          wrong_usage);
        point = boiling_point(pressure);
        where = "at " + around.pressure;
    } else if (around.settings.pressure) {
        point = boiling_point(*around.settings.pressure);
        where = "at the kitchen file's pressure";
    } else if (around.settings.altitude) {
        point = boiling_point(*around.settings.altitude);
        where =
            "at the kitchen's altitude in the standard atmosphere; the weather moves it by some 0.5 K, give "
            "today's station pressure with --pressure";
    }
    if (!point)
        throw Failure(
            "where water boils is not known: give the station pressure, as --pressure \"985 hPa\" (a weather "
            "report's is reduced to sea level, and will not do)",
            wrong_usage);
    return {"boiling water (" + show(*point, around.unit, 2) + " " + where + ")", "", point->celsius,
            "Let plain water come to a rolling boil in a deep pot. Hold the whole tip in the water; it must "
            "not touch the pot."};
}

}  // namespace

Bath bath_of(std::string const& text, Surroundings const& around) {
    if (text == "ice")
        return {"ice water", "", 0.0,
                "Fill a glass with crushed ice, let water fill the gaps, and stir. Hold the whole tip in the "
                "middle; it must not touch the glass."};
    if (text == "boiling") return boiling_water(around);
    if (text == around.probe) throw Failure("a probe is not its own reference", wrong_usage);
    if (std::ranges::find(around.names, text) != around.names.end())
        return {"the probe " + text, text, {}, side_by_side};
    auto const value = parse_temperature(text);
    if (auto const* error = std::get_if<QuantityError>(&value))
        throw Failure("\"" + text + "\" is neither ice, boiling, another probe nor a temperature (" +
                          error->wrong + "; " + error->right + ")",
                      wrong_usage);
    auto const is = std::get<Temperature>(value);
    return {"a reference at " + show(is, around.unit, 2), "", is.celsius, side_by_side};
}

}  // namespace ingle::cli
