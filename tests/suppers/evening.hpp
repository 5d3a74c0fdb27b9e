// One supper from the evening before to the plate: the core is fed by the hall's probes as it is in live use,
// the cook does what the schedule and the notices say, now and then minutes late.
#pragma once

#include <array>
#include <optional>
#include <string>
#include <vector>

#include "tests/suppers/supper.hpp"

namespace ingle::suppers {

struct Said {  // of a dish at one moment of the day, s since the start
    int early = 0, ready = 0, late = 0;
    double chance = -1;  // below 0: not said
};
struct Warning {
    int at = 0;
    std::string text;
};
struct Served {
    int serve_at = 0;
    std::optional<int> begun, ready;           // ready: the cook could have put it on the table
    std::optional<Said> at_breakfast, at_one;  // empty: nothing was said of when it is ready
    std::vector<Warning> warnings;             // late-for-serving, as each was raised
    std::optional<double> short_of_target_k;   // by so much the core truly was at the end of its stage
};
struct Evening {
    std::array<Served, dishes> served;
    std::optional<std::pair<int, int>> fire_out;
    double schedule_ms = 0;  // of the schedule at breakfast
};

struct Manner {
    bool heeds =
        false;  // begins what a late-for-serving says is to be begun, and turns up the heat that it names
    std::optional<int>
        top_from;  // since when the smoker and the pot are kept at the top of their bands in any case
};
// Who heeds nothing does all as the schedule has it.
Evening run(Supper const& supper, Manner const& manner = {});

}  // namespace ingle::suppers
