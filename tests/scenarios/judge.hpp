// Holds what was told against the truth of a scenario.
#pragma once

#include <map>
#include <set>
#include <string>
#include <utility>
#include <vector>

#include "tests/scenarios/scenario.hpp"

namespace ingle::scenarios {

struct Told {  // an alarm as it was raised
    double at_s = 0;
    std::string alarm, subject, text;
    Priority priority{};
    double cleared_s = 1e18;
};
struct DoorTold {
    double at_s = 0;
};
struct Run {
    std::vector<Told> alarms;
    std::vector<DoorTold> doors;
    std::vector<std::pair<double, std::string>> events;  // of those that a scenario can ask for
    std::set<std::string> opposed;                       // alarms that ordered opposite things at once
    int statements = 0;                                  // levels and forecasts held against the readings
    std::vector<std::string> lies;                       // those that they do not bear out
};

Run run_core(Scenario const& scenario);                        // through daemon/kitchen
Run run_threshold(Scenario const& scenario, double deadband);  // the plain alternative: low, high, no reading

struct Score {
    int runs = 0, hazards = 0, told = 0, late = 0, missed = 0;
    int warnings = 0, unwarned = 0;  // ways out of the band that a warning must come before
    int causes = 0, extra = 0;       // extra: medium or high alarms beyond the first chain of one cause
    double quiet_h = 0;
    int quiet_alarms = 0;   // medium or high, while nothing was wrong
    int truly_outside = 0;  // medium or high in a quiet hour, and true: the band was left
    int quiet_words = 0;    // low ones in quiet hours: leaving-band and its like
    int doors = 0, doors_found = 0, doors_invented = 0;
    int events = 0, events_found = 0, events_invented = 0;
    int corrections = 0, nagged = 0;  // leaving-band raised anew although the heat was turned
    int statements = 0, lies = 0;
    int opposed = 0;                    // pairs of alarms that ordered opposite things at once
    int after = 0;                      // medium or high alarms after the hazard that nothing explains
    std::vector<double> leads_s;        // of leaving-band where the exit took longer than 5 min
    std::vector<double> boil_leads_s;   // of boil-over-risk where the rise took longer than 2 min
    std::vector<std::string> offences;  // for the reader: "seed 3: boil-over-risk 12 s late"
    void add(Score const& other);
};

Score judge(Scenario const& scenario, Run const& run);

// A kitchen of one vessel on a signal without sense: what was told of it that was not read.
struct RandomRun {
    int statements = 0;
    std::vector<std::string> lies;
};
RandomRun run_random(std::uint64_t seed);

double median(std::vector<double> values);  // NaN if empty

// One chart of a scenario: truth, readings, band, alarms. SVG, no colour needed to read it.
std::string chart(Scenario const& scenario, Run const& run, std::string_view truth);

}  // namespace ingle::scenarios
