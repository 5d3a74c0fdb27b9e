// food-added: a chamber comes back from its door, but lower than a door alone leaves it, because something
// cold stands in it now. Belongs to the heat watch; pure.
#pragma once

#include <algorithm>
#include <array>
#include <optional>

#include "daemon/watches/heat/opening.hpp"
#include "daemon/watches/watch.hpp"
#include "daemon/watches/words.hpp"

namespace ingle {

class FoodAdded {
public:
    // Once a second with a fresh medium, after the opening was stepped.
    void step(Opening::Change const& change, Opening const& opening, VesselSituation const& now,
              Words const& words, WatchOutput& out);

    template <class Visit>
    void fields(Visit& visit) {
        visit(before_, depth_, length_s_, sum_, looked_s_, turned_at_, turned_before_, shares_, known_);
        known_ = std::max(known_, 0);
        looked_s_ = std::max(looked_s_, 0);
    }

private:
    double limit() const;  // share of the depth that may be missing after a moment's opening without food

    double before_ = 0, depth_ = 0, length_s_ = 0;
    double sum_ = 0;  // degC, of the level over `looked_s_` seconds after it was shut
    int looked_s_ = 0;
    std::optional<Instant> turned_at_, turned_before_;
    std::array<double, 4> shares_{};  // that the newest openings without food left missing
    int known_ = 0;
};

}  // namespace ingle
