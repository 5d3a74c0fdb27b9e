// Where times ask for more than there is: the cook's hands in two places, a vessel with more dishes than it
// has room for, or at two temperatures. Pure.
#pragma once

#include <optional>
#include <vector>

#include "daemon/schedule/bounds.hpp"

namespace ingle::schedule {

struct Clash {
    int vessel = -1;           // -1: the hands
    std::vector<Place> tasks;  // all at once, which cannot be; two of them at least must follow each other
    Interval when;             // that they are all at once
};

enum class Seek { earliest, latest };
// The first, or the last, clash of these begins (in the order of `Bounds::number_of`).
std::optional<Clash> find_clash(Problem const& problem, Bounds const& bounds,
                                std::vector<Seconds> const& begins, Seek seek);

// One of these holds wherever the clash is no more: one of the two is over before the other begins, or a
// stage that asks for no time is left out.
std::vector<Order> ways_out(Problem const& problem, Clash const& clash);

}  // namespace ingle::schedule
