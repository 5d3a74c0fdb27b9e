// How fast a tip in the air falls, and the food or the liquid it was in cannot. Common practice, no source.
// Pure.
#pragma once

namespace ingle {

struct Drop {
    double kelvin;
    int within_s;
};
inline constexpr Drop faster_than_liquid{30, 90}, faster_than_core{8, 30};
inline constexpr double displaced_from_c =
    45;  // colder than this a cold addition or a fridge can do the same

}  // namespace ingle
