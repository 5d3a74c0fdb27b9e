// What is known of a dish before a reading: from what the cook entered and from the kind of vessel. Ten
// numbers that are standard normal a priori stand for the body's parameters. Pure; any thread.
#pragma once

#include <array>
#include <optional>

#include "daemon/forecast/body.hpp"

namespace ingle {

enum class Surroundings { liquid, oven, smoker, cold };
Surroundings surroundings_of(VesselKind kind);

struct DishEntries {  // what the cook said of the dish; none of it is needed, and it may be wrong
    std::optional<Shape> shape;
    std::optional<double> thickness_m, mass_kg;
    Surroundings surroundings = Surroundings::oven;
    bool liquid = false;  // it mixes by itself: stock, a thin soup
    bool hollow = false;  // a whole bird: its mass says less of its thickness
};

inline constexpr std::size_t unknown_count = 10;
using Unknowns = std::array<float, unknown_count>;

class Prior {
public:
    // `start_c`: what the probe read at first; known to `start_sd_k`.
    Prior(DishEntries const& entries, double start_c, double start_sd_k = 1);

    BodyParameters parameters(Shape shape, Unknowns const& z) const;
    double share_of(Shape shape) const;
    bool evaporates() const { return entries_.surroundings != Surroundings::liquid; }

private:
    BodyParameters liquid_parameters(Unknowns const& z) const;

    DishEntries entries_;
    double start_c_, start_sd_k_;
    double ln_tau_, tau_sd_;
};

}  // namespace ingle
