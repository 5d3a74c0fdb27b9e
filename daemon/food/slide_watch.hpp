// Whether a tip slid to where it is while it was read. However the middle of a body is heated, it slows down
// no faster than its body relaxes, unless what is around it cools; a way that is much quicker than those
// before and after it is that of a tip. Told at some time scales, each after one more of its length. Owned by
// the judge of one core probe; pure; bounded memory.
#pragma once

#include <deque>
#include <optional>

#include "daemon/food/body_bounds.hpp"

namespace ingle {

// Of what is around food where it is not read: a freezer's (Codex Alimentarius CXC 8-1976, deep-frozen).
inline constexpr double freezer_c = -18;

class SlideWatch {
public:
    // A reading that counts, s and degC, the coldest that may be around the food, and what is, if it is read;
    // times must not go back.
    void take(double t, double celsius, double coldest_c = freezer_c, std::optional<double> around_c = {});
    void clear() { bins_.clear(); }

    struct Slide {  // where it was last in its place, and how fast it moved there, K/s
        double t = 0, c = 0, slope = 0;
    };
    // The newest readings show one: to what is warmer, or colder.
    std::optional<Slide> seen(BodyBounds const& bounds, bool to_warmer) const;
    // Where a middle that is heated only slows down it goes faster again, and nothing is known to have become
    // warmer around it: the tip is on its way to the surface. `hottest_c`: of any core.
    std::optional<Slide> regained(double hottest_c) const;
    // They went to what is warmer faster than the middle would in surroundings of `hottest_c`, or to what is
    // colder faster than it would in the coldest that may have been around it.
    std::optional<Slide> outran(BodyBounds const& bounds, std::optional<double> hottest_c) const;

private:
    struct Bin {  // the mean of some seconds
        double first = 0, last = 0, t = 0, c = 0;
        int readings = 0;
        double coldest_c = 0;              // around the food
        std::optional<double> around_c{};  // as read, at its warmest
    };
    struct Level {
        double t = 0, c = 0;
        int bins = 0;
    };
    std::optional<Level> level_at(double t, double around_s) const;
    bool warmer_around(double since, double from, double to) const;

    std::deque<Bin> bins_;
};

}  // namespace ingle
