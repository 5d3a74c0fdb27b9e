// A random variant of the harvest supper: the kitchen and plan files of the evening before, what is true of
// the food and of the heat, and how prompt the cook is.
#pragma once

#include <array>
#include <cstdint>

#include "config/settings.hpp"
#include "tests/suppers/hall.hpp"

namespace ingle::suppers {

struct Supper {
    std::uint64_t seed = 0;
    Settings settings;
    Heat heat;
    std::array<Body, 3> bodies;
};

inline constexpr std::int64_t started_at = 1'795'622'400;  // 2026-11-25T16:00:00Z; the kitchen's zone is UTC

Supper make_supper(std::uint64_t seed);

}  // namespace ingle::suppers
