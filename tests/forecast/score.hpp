// How good forecasts were: of one forecast against what came, and of many.
#pragma once

#include <optional>
#include <vector>

#include "tests/forecast/cooks.hpp"

namespace ingle::bench {

inline constexpr double fractions[] = {0.3, 0.5, 0.7, 0.85};
inline constexpr std::size_t fraction_count = 4;

// One forecast as its quantiles 10, 25, 50, 75 and 90 %, s from then; and what truly was left.
struct Told {
    double q10 = 0, q25 = 0, q50 = 0, q75 = 0, q90 = 0;
};
struct Outcome {
    std::optional<Told> told;
    std::optional<double> line, mean_rule;  // the simple rules' answers
    double left_s = 0, whole_s = 1;
};
struct CookScore {
    SimulatedCook const* cook = nullptr;
    Outcome at[fraction_count];
    bool early = false;       // an estimate by 10 % of the cook
    bool told_never = false;  // an estimate although the target cannot be reached
    bool called_unreachable = false;
    std::optional<double> called_at_s;  // first
    double told_share = 0;              // of the answers, that held an estimate
    double worst_update_ms = 0, mean_update_ms = 0;
};

double pinball(Told const& told, double truth_s);
double pinball_of_point(double told_s, double truth_s);

struct Summary {
    int count = 0, told = 0, held80 = 0, held50 = 0;
    std::vector<double> error, width, line_error, mean_error;  // % of the cook
    double pinball = 0, pinball_line_own = 0, pinball_line = 0, pinball_mean_own = 0, pinball_mean = 0;

    void add(Outcome const& outcome);
};
double median(std::vector<double> all);

// Runs the estimator over one cook as a kitchen would: every sample, an answer each minute.
CookScore run(SimulatedCook const& cook);

}  // namespace ingle::bench
