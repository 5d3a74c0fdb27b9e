// A restart is no all-clear: every scenario is run once as it is and once with the core restarted at random
// moments, from nothing but what it remembers. What is told must be the same, but for stated delays.
#pragma once

#include <string>
#include <vector>

#include "tests/scenarios/scenario.hpp"

namespace ingle::scenarios {

// After a restart an alarm may be raised this much later, because its watch gathers its past anew, and its
// end be told this much later, because what is not found at once is not over.
constexpr double raised_later_s = 15 * 60, cleared_later_s = 12 * 60;

struct RestartScore {
    int runs = 0, restarts = 0, told = 0;
    int false_clear = 0;  // told to be over, and it was not
    int raised_anew = 0;  // told once more
    int not_raised = 0;   // never told, or too late
    int not_cleared = 0;  // its end never told, or too late
    int low = 0;          // of all these, of low alarms: what is only forecast is learnt anew
    std::vector<std::string> offences;
    void add(RestartScore const& other);
    int wrong() const { return false_clear + raised_anew + not_raised + not_cleared; }
};

RestartScore compare_with_restarts(Scenario const& scenario, int restarts);

}  // namespace ingle::scenarios
