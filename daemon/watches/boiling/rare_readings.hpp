// Readings that are far apart are counted: the seconds between them show nothing. For the boiling watch;
// pure.
#pragma once

#include <algorithm>
#include <cmath>
#include <optional>

#include "daemon/watches/watch.hpp"

namespace ingle {

class RareReadings {
public:
    // Whether it has just jumped to another place: what stands there did not rise to it.
    bool take(Signal const& medium) {
        bool const jumped = medium.jumps != jumps_ && at_;
        if (jumped) jumped_at_ = medium.sample_at;
        jumps_ = medium.jumps;
        rare_ = medium.every >= rare_from;
        if (at_ == medium.sample_at) return jumped;
        double const moved = medium.celsius - celsius_;
        double const least = std::max(medium.step, noises * medium.noise);
        if (at_ && moved > least)
            ++rises_;
        else if (moved < -least || (stands_ >= enough && rises_ < enough))
            rises_ = 0;
        stands_ = at_ && std::abs(moved) <= least ? stands_ + 1 : 0;
        celsius_ = medium.celsius;
        at_ = medium.sample_at;
        return jumped;
    }
    // Of what is read often enough the seconds tell. One step, and a level that stands, is another place.
    bool rose(Instant now) const {
        bool const seen = !jumped_at_ || now - *jumped_at_ > seen_after;
        return seen && (!rare_ || rises_ >= enough);
    }
    bool stand() const { return !rare_ || stands_ >= enough; }

    template <class Visit>
    void fields(Visit& visit) {
        visit(at_, celsius_, rises_, stands_, rare_, jumps_, jumped_at_);
    }

private:
    static constexpr Span rare_from = std::chrono::seconds(10);
    static constexpr Span seen_after =
        std::chrono::minutes(12);  // a plateau is told from so much of its past
    static constexpr int enough = 3;
    static constexpr double noises = 3;

    std::optional<Instant> at_;
    double celsius_ = 0;
    int rises_ = 0, stands_ = 0;  // in a row
    bool rare_ = false;
    int jumps_ = 0;
    std::optional<Instant> jumped_at_;
};

}  // namespace ingle
