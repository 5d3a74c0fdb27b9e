// Until when a dish that is not begun can be begun: what the kitchen asks of it each minute. Pure.
#pragma once

#include <cstddef>
#include <optional>
#include <string>
#include <vector>

#include "daemon/schedule/schedule.hpp"

namespace ingle::schedule {

struct LatestBegin {
    std::optional<Seconds> likely;  // ready in time in one of two; empty: not even if it is begun now
    Seconds sure = 0;               // ready in time as surely as its plan allows; at most `likely`
    // False: what it shares with others was too much to search. It is judged by itself then: it can be begun
    // no later, and may have to be begun sooner.
    bool in_full = true;
    bool nine_of_ten = true;            // and that is so often; false: no begin is as sure as that
    Seconds ready = 0;                  // if it is begun as soon as it can be
    bool taken = false;                 // alone it would be in time: a vessel or the hands are taken
    std::string stage;                  // the first one
    int vessel = -1;                    // that it happens in
    std::string unknown;                // a stage whose length nobody knows: it counts as nothing
    std::vector<std::string> remedies;  // where it is late: each tried, the least change first
};
// Beside the dishes that cook (`wanted.running`) and those that are to be served before it. Empty: there is
// nothing to begin for a time, or it can be done at no time.
// `effort`: what its searches may take together, as in Effort.
constexpr std::size_t effort_to_find = 300'000;
std::optional<LatestBegin> latest_begin(Wanted const& wanted, int dish, std::size_t effort = effort_to_find);

// What would bring a dish that cooks to the table in time, or when it can be served: each tried, the least
// change first. Empty where a length is not known.
std::vector<std::string> what_helps(Wanted const& wanted, int dish);

}  // namespace ingle::schedule
