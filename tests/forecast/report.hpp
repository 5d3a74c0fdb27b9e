// What the forecast bench prints of its scores.
#pragma once

#include <vector>

#include "tests/forecast/score.hpp"

namespace ingle::bench {

struct Pooled {
    Summary at[fraction_count];
    int early = 0;                              // cooks with an estimate by 10 % of their time
    int told_never = 0, called = 0, cooks = 0;  // an estimate for an unreachable target; called unreachable
    std::vector<double> called_h;               // when first
    double told_share = 0, mean_update_ms = 0, worst_update_ms = 0;
};
Pooled pool(std::vector<CookScore> const& scores);

void print(char const* name, Pooled const& pooled);
void print_reach(char const* name, Pooled const& pooled, bool never);
// By what an interval's sides would have had to be longer to hold 80 (50) % of the truth.
void print_calibration(std::vector<CookScore> const& scores);
void print_rows(std::vector<CookScore> const& scores);
void print_real();

}  // namespace ingle::bench
