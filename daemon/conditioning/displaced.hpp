// How fast a tip in the air falls, and the food or the liquid it was in cannot. Common practice, no source.
// Pure.
#pragma once

#include <deque>
#include <utility>

#include "drivers/reading/clock.hpp"

namespace ingle {

struct Drop {
    double kelvin;
    int within_s;
};
inline constexpr Drop faster_than_liquid{30, 90}, faster_than_core{8, 30};
inline constexpr double displaced_from_c =
    45;  // colder than this a cold addition or a fridge can do the same

// Tells at once, reading by reading, that a core fell faster than the middle of a dish can; the alarm, which
// waits to be sure, comes seconds later. Until then the readings are not the food's.
class CoreFall {
public:
    // Times must not go back; degC.
    bool too_fast(Instant at, double celsius) {
        while (!highest_.empty() && at - highest_.front().first > Span(1000 * faster_than_core.within_s))
            highest_.pop_front();
        while (!highest_.empty() && highest_.back().second <= celsius) highest_.pop_back();
        highest_.emplace_back(at, celsius);
        double const before = highest_.front().second;
        return before >= displaced_from_c && before - celsius > faster_than_core.kelvin;
    }

private:
    std::deque<std::pair<Instant, double>>
        highest_;  // falling values: the front is the highest of the window
};

}  // namespace ingle
