// A hob's element, or a thermostat, that switches itself off and on: the fall of its off-time looks like a
// lost fire, and comes back by itself, as deep each time. Owned by heat; pure, fixed memory.
#pragma once

#include <algorithm>
#include <array>
#include <optional>

#include "daemon/watches/watch.hpp"

namespace ingle {

class Element {
public:
    // A fall that was taken for a loss has come back: to `lowest` from `from`, degC.
    void came_back(Instant now, double lowest, double from) {
        falls_[1] = falls_[0];
        falls_[0] = {now, lowest, from - lowest};
    }
    // Whether the element takes it to this level, degC, by its rhythm: the swing that is recognised, or
    // before that two falls of the same depth.
    bool usual(Instant now, std::optional<Cycle> const& cycle, double level) {
        if (cycle) {
            swing_ = *cycle;
            seen_at_ = now;
        }
        // One that is overdue is not recognised any more; how deep it goes is known all the same.
        if (seen_at_ && now - *seen_at_ < from_seconds(swing_.period_s))
            return level > swing_.low - beyond(swing_.high - swing_.low);
        auto const& [newest, before] = falls_;
        if (!newest.at || !before.at) return false;
        Span const apart = *newest.at - *before.at;
        double const deeper = std::max(newest.depth, before.depth);
        bool const alike = std::min(newest.depth, before.depth) > alike_share * deeper;
        return alike && now - *newest.at < remembered_for * apart &&
               level > std::min(newest.lowest, before.lowest) - beyond(deeper);
    }
    template <class Visit>
    void fields(Visit& visit) {
        for (auto& fall : falls_) visit(fall.at, fall.lowest, fall.depth);
        visit(seen_at_, swing_.period_s, swing_.mean, swing_.low, swing_.high);
    }

private:
    static constexpr double alike_share = 0.65, beyond_share = 0.15, least_beyond_k = 0.5;
    static constexpr int remembered_for = 3;  // times as long as they were apart
    static double beyond(double swing) { return std::max(beyond_share * swing, least_beyond_k); }

    struct Fall {
        std::optional<Instant> at;
        double lowest = 0, depth = 0;
    };
    std::array<Fall, 2> falls_{};
    Cycle swing_{};
    std::optional<Instant> seen_at_;
};

}  // namespace ingle
