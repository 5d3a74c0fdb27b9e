// Whether a core says that the dish has left the vessel it was in: heat does not flow from cold to hot. A
// core that falls although the vessel is hotter, or rises although a cold vessel is colder, is somewhere
// else. Pure.
#pragma once

#include <algorithm>
#include <optional>

#include "drivers/reading/clock.hpp"

namespace ingle {

class Departure {
public:
    // Once a second with fresh values, degC; `cold`: nobody heats the vessel, so no heat is still on its way
    // into the core.
    bool step(Instant now, double core, double medium, bool cold) {
        lowest_ = std::min(core, lowest_.value_or(core));
        highest_ = std::max(core, highest_.value_or(core));
        bool const falls = core < *highest_ - moved_k && medium > core + apart_k;
        bool const rises = cold && core > *lowest_ + moved_k && medium < core - apart_k;
        if (!falls && !rises)
            since_.reset();
        else if (!since_)
            since_ = now;
        return since_ && now - *since_ >= for_good;
    }

private:
    // Our own judgement: more than a stir or a draught does to the middle of a dish.
    static constexpr double moved_k = 3, apart_k = 3;
    static constexpr Span for_good = std::chrono::minutes(2);
    std::optional<double> lowest_, highest_;
    std::optional<Instant> since_;
};

}  // namespace ingle
