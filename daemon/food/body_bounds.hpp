// What the middle of a body of said thickness can do at most, whatever is around it: by conduction alone,
// with a surface that takes on any temperature at once. Pure.
#pragma once

#include <optional>

#include "config/quantity.hpp"
#include "config/settings.hpp"

namespace ingle {

class BodyBounds {
public:
    // A shape that is not said is the quickest, a sphere. Without a thickness nothing is bounded but by
    // `least`, the least that a dish has; 0: nothing at all.
    BodyBounds(std::optional<Length> thickness, std::optional<Shape> shape, double least_m);

    // K/s2: its rate does not change faster, in surroundings that change by `whole_k` K. Of a said thickness.
    std::optional<double> bend(double whole_k) const;
    std::optional<double> rate(double whole_k) const;  // K/s: it does not move faster
    // What share of its whole way the middle has gone at most, `seconds` after it had gone `share`: of a body
    // of one temperature that was set into the hottest or the coldest surroundings.
    double share_after(double share, double seconds) const;
    // What share of its rate the middle loses within `seconds` at most, while what is around it does not
    // cool.
    double relaxed(double seconds) const;

private:
    std::optional<double> bend_, rate_;  // of 1 K
    double fourier_per_s_ = 0, slowest_mode_ = 0;
};

}  // namespace ingle
