// What a run came to, for the last line of a replay and the review of a cook. Plain values.
#pragma once

#include <optional>
#include <string>
#include <vector>

#include "daemon/model/view.hpp"

namespace ingle {

struct VesselSummary {
    double in_s = 0, above_s = 0, below_s = 0;  // while there was a band and a reading
    double unbanded_s = 0;                      // a reading, but no band
    double no_data_s = 0;
    std::optional<double> min_c, mean_c, max_c;  // of accepted readings, once a second
};

struct DishSummary {
    bool begun = false;  // ever, in this run
    std::optional<double> peak_core_c;
    std::optional<double> lethality_log10;
    std::optional<double> danger_zone_s;           // measured
    std::optional<double> danger_zone_possible_s;  // measured, and what the gaps allow
    std::string cooling = "unknown";               // "met", "missed", "not-applicable", "unknown"
    std::vector<Verdict> verdicts;                 // as they stand at the end of the run
};

struct RunSummary {
    std::vector<VesselSummary> vessels;  // by number
    std::vector<DishSummary> dishes;
};

}  // namespace ingle
