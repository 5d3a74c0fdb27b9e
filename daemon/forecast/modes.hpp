// The first terms of the conduction series as a recursion: each term is one number that tends to the medium
// with a time of its own, so that any course of the medium is followed exactly and at a fixed cost. Pure; any
// thread.
#pragma once

#include <array>
#include <cstddef>

#include "config/settings.hpp"

namespace ingle {

inline constexpr std::size_t mode_count = 8;
using ModeRow = std::array<float, mode_count>;

// For a body of one shape and Biot number: term n falls as exp(-rate[n] a t / R^2). What is left of `place`
// and `surface` to one is what follows the medium at once.
struct Modes {
    ModeRow rate{};     // zeta_n squared
    ModeRow place{};    // C_n X(zeta_n r / R) where the probe is
    ModeRow surface{};  // C_n X(zeta_n)
    float place_rest = 0, surface_rest = 0;
};
// `biot` 0.02 to 400 (held there); `off_centre` r / R, 0 to 1. Interpolated from a table: to 1e-3 of the
// step of the medium from Fo = 0.02 on.
Modes modes_of(Shape shape, double biot, double off_centre);

// Over a step of `fourier` = a dt / R^2: what is left of each term.
ModeRow decay(Modes const& modes, double fourier);

}  // namespace ingle
