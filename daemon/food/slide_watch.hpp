// Whether a tip slid to where it is while it was read. However the middle of a body is heated, it slows down
// no faster than its body relaxes, unless what is around it cools; a way that is much quicker than those
// before and after it is that of a tip. Told at some time scales, each after one more of its length. Owned by
// the judge of one core probe; pure; bounded memory.
#pragma once

#include <deque>
#include <optional>

#include "daemon/food/body_bounds.hpp"

namespace ingle {

class SlideWatch {
public:
    void take(double t, double celsius);  // a reading that counts, s and degC; times must not go back
    void clear() { bins_.clear(); }

    struct Slide {  // where it was last in its place, and how fast it moved there, K/s
        double t = 0, c = 0, slope = 0;
    };
    // The newest readings show one: to what is warmer, or colder.
    std::optional<Slide> seen(BodyBounds const& bounds, bool to_warmer) const;

private:
    struct Bin {  // the mean of some seconds
        double first = 0, last = 0, t = 0, c = 0;
        int readings = 0;
    };
    struct Level {
        double t = 0, c = 0;
        int bins = 0;
    };
    std::optional<Level> level_at(double t, double around_s) const;

    std::deque<Bin> bins_;
};

}  // namespace ingle
