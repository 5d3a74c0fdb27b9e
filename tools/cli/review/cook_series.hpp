// The readings of one probe out of the logbook, as the facts about a cook or a day take them.
#pragma once

#include <string>
#include <vector>

#include "daemon/logbook/reader.hpp"
#include "daemon/review/record.hpp"

namespace ingle::cli {

// Times in seconds since `began`. How often the probe is read is what the settings say, or, where they are
// more than half off, what the readings themselves show. `lost_time`: moments after a gap whose length is
// not known are added to it.
CookSeries series_of(std::string const& probe, logbook::History const& history, WallTime began,
                     Settings const& settings, std::vector<double>& lost_time);

}  // namespace ingle::cli
