// What was going on at a moment of a cook: its stage, what the food went through, and the band asked for.
// Shared by the sources of this folder. Pure.
#pragma once

#include <string>
#include <vector>

#include "daemon/food/ledger.hpp"
#include "daemon/review/record.hpp"

namespace ingle {

// The name of the stage that a reading at t belongs to; "" before the first, "after" behind the last.
std::string stage_name_at(std::vector<CookStage> const& stages, double t);
FoodPhase phase_at(CookRecord const& record, double t);

// The readings of a series as straight lines and gaps.
std::vector<Step> plain_steps(CookSeries const& series);
// The value on the line at t; empty in a gap.
std::optional<double> value_at(CookSeries const& series, double t);

}  // namespace ingle
