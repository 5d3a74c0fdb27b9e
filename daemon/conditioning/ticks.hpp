// The rhythm in which a coarse instrument steps, and so whether it still moves: what has stayed out for
// clearly longer than the steps before it came moves no more. Fixed memory; belongs to one probe.
#pragma once

#include "daemon/model/bounds.hpp"
#include "drivers/reading/clock.hpp"

namespace ingle {

class Ticks {
public:
    // After each accepted reading: `step` is the resolution in K, `every` the time between the readings.
    void take(Instant at, double celsius, double step, Span every);
    void restart() { begun_ = false; }
    // Narrows the rates that may be told: none where one value has stayed out for longer than that. What
    // trembles over its steps shows by itself what it does.
    void narrow(Bounds& bounds) const;
    template <class Visit>
    void fields(Visit& visit) {
        visit(begun_, same_, other_, same_since_, others_, at_, low_, high_, way_, stepped_at_, apart_,
              before_, step_, every_);
    }

private:
    void step(Instant at, double celsius);
    Span patience() const;  // after which the next step is overdue

    bool begun_ = false;
    double same_ = 0, other_ = 0;  // degC: what is read since then, and the newest
    Instant same_since_{}, at_{};
    int others_ = 0;             // readings of something else in a row
    double low_ = 0, high_ = 0;  // degC, at most two steps apart: trembling between them is no step
    int way_ = 0;                // of the newest step; 0: none was seen
    Instant stepped_at_{};
    Span apart_{}, before_{};  // between the newest two steps one way, and the two before; 0: not known
    double step_ = 0;
    Span every_{};
};

}  // namespace ingle
