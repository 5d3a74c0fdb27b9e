// Whether a probe shows what it stands in yet. After a step (dipped, lifted, topped up, a door, a gap) a tip
// follows with its own time constant, and its way there is no trend of anything: nothing is said of one until
// the readings run straight again. Fixed memory, bounded in time; belongs to one probe.
#pragma once

#include <optional>

#include "daemon/conditioning/lately.hpp"
#include "drivers/reading/clock.hpp"

namespace ingle {

class Settling {
public:
    // `fast`: K/s that what the probe stands in cannot do by itself.
    explicit Settling(double fast) : fast_(fast) {}

    void disturb(Instant at) {  // a bend was seen, or there was nothing to compare with
        if (settled_) first_ = at;
        disturbed_ = at;
        settled_ = false;
    }
    void leap(Instant at) {  // from one level to another, between two readings
        disturb(at);
        leapt_ = at;
    }
    // After each accepted reading: `noise` and `step` of the probe in K, `every` between its readings. True
    // if it has just settled: what was read in the last window() is the beginning of a trend.
    bool take(Instant at, Lately const& lately, double noise, double step, Span every);
    bool settled() const { return settled_; }
    Span window() const { return window_; }
    double fast() const { return fast_; }
    std::optional<Instant> leapt() const { return leapt_; }
    template <class Visit>
    void fields(Visit& visit) {
        visit(settled_, first_, disturbed_, leapt_, window_);
    }

private:
    // The window over which it does.
    std::optional<Span> climbs(Lately const& lately, double noise, double step, Span every) const;

    double fast_;
    bool settled_ = true;
    Instant first_{}, disturbed_{};
    std::optional<Instant> leapt_;
    Span window_{};
};

}  // namespace ingle
