// The calculators over a whole recording of one probe: the same sums that the ledger keeps. Pure; any thread.
#pragma once

#include <optional>
#include <span>
#include <string>
#include <vector>

#include "config/quantity.hpp"
#include "daemon/food/cooling.hpp"
#include "daemon/food/lethality.hpp"
#include "daemon/food/phase.hpp"

namespace ingle {

// The readings that are the core's own, as the daemon judges them; the others are no reading. What the stage
// does is not known of a recording: `phase` is what it is taken for. With a class, readings before the first
// one below its target do not count either: a core that never was below it is not seen to reach it.
// `medium`: what was read around the food, in order of time; empty: it was not. `thickness`: of the food, if
// it is known; without it a quick core cannot be told from air (thermal_lag.hpp). `from_below` false:
// readings before the first one below the target do count. `boiling_c`: of water where it was cooked.
std::vector<FoodSample> core_samples(std::span<FoodSample const> series, FoodPhase phase,
                                     FoodClass const* food = nullptr, std::span<FoodSample const> medium = {},
                                     std::optional<Length> thickness = {}, bool from_below = true,
                                     double boiling_c = 100, std::optional<Shape> shape = {});

struct SeriesLethality {
    std::optional<double> log10;           // credited; empty: no model for this food, or no reading
    std::optional<double> computed_log10;  // also where the source's conditions were not kept
    std::optional<Lethality::Row> row;     // the highest row of its table that is fulfilled
    double come_up_s = 0, come_up_possible_s = 0, gap_s = 0;
    double danger_s = 0, danger_possible_s = 0;
    std::optional<double> peak_c;
    std::string why;  // one sentence on what it rests on, or why there is no figure
    std::string_view source, caution;
};
SeriesLethality lethality_of(std::span<FoodSample const> series, FoodClass const& food);

// The sentence for the answer of cooling_of (daemon/food/cooling.hpp), with the times to redo it by hand.
std::string cooling_sentence(SeriesCooling const& cooling, TemperatureUnit units);

}  // namespace ingle
