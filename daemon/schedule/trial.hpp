// Whether a change helps: the whole kitchen is planned again with it, every dish of it. Pure.
#pragma once

#include <cstddef>
#include <optional>
#include <vector>

#include "daemon/schedule/changes.hpp"
#include "daemon/schedule/planned.hpp"

namespace ingle::schedule {

struct Standing {  // of a dish in a plan of the whole kitchen
    bool planned = false, possible = false;
    Seconds begin = 0, ready = 0, late = 0;
    Seconds last_stage = 0;  // how long the dish is in it
    double in_time = 0;      // only where it was asked for
};

class Trial {
public:
    // `steps`: of one search; with fewer, more is not known.
    Trial(Wanted const& wanted, std::size_t steps);

    // By dish number, as it is without a change; empty: that is not known.
    std::vector<Standing> const& before() const { return before_; }
    // Every one of `dishes` is in time then, and no other dish is later than it is without the change.
    bool resolves(Changed const& change, std::vector<int> const& dishes) const;
    // How it would be; empty: not known, or no better for a dish that is not among `dishes`.
    std::optional<std::vector<Standing>> with(Changed const& change, std::vector<int> const& dishes,
                                              bool chances = false) const;

private:
    std::optional<std::vector<Standing>> standings(Wanted const& wanted, std::vector<DishJob> jobs,
                                                   bool chances) const;
    std::size_t steps_;
    std::vector<DishJob> jobs_;
    std::vector<Standing> before_;
};

}  // namespace ingle::schedule
