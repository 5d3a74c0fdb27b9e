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
    void take(Signal const& medium) {
        rare_ = medium.every >= rare_from;
        if (at_ == medium.sample_at) return;
        double const moved = medium.celsius - celsius_;
        double const least = std::max(medium.step, noises * medium.noise);
        if (at_ && moved > least)
            ++rises_;
        else if (moved < -least || (stands_ >= enough && rises_ < enough))
            rises_ = 0;
        stands_ = at_ && std::abs(moved) <= least ? stands_ + 1 : 0;
        celsius_ = medium.celsius;
        at_ = medium.sample_at;
    }
    // Of what is read often enough the seconds tell. One step, and a level that stands, is another place.
    bool rose() const { return !rare_ || rises_ >= enough; }
    bool stand() const { return !rare_ || stands_ >= enough; }

    template <class Visit>
    void fields(Visit& visit) {
        visit(at_, celsius_, rises_, stands_, rare_);
    }

private:
    static constexpr Span rare_from = std::chrono::seconds(10);
    static constexpr int enough = 3;
    static constexpr double noises = 3;

    std::optional<Instant> at_;
    double celsius_ = 0;
    int rises_ = 0, stands_ = 0;  // in a row
    bool rare_ = false;
};

}  // namespace ingle
