// Simulated cooks of four classes, and what the cook entered of them. The judged ones come from other seeds
// and from wider ranges than the tuned ones.
#pragma once

#include <optional>
#include <string>
#include <vector>

#include "daemon/forecast/core_forecast.hpp"

namespace ingle::bench {

enum class Class { poach, roast, smoke, chill };
inline constexpr Class classes[] = {Class::poach, Class::roast, Class::smoke, Class::chill};
char const* name_of(Class kind);

enum class Case {
    none,
    medium_step,
    door,
    moved_probe,
    restart,
    gap,
    half_thickness,
    double_thickness,
    off_centre,
    barely,     // the medium is only just enough, and swings
    late_fire,  // it comes up slowly: too cold for long, and then it is enough
    unreachable,
    fire_dies  // enough at first, and from a third to a half of the usual time on not any more
};
inline constexpr Case cases[] = {Case::medium_step,      Case::door,        Case::moved_probe,
                                 Case::restart,          Case::gap,         Case::half_thickness,
                                 Case::double_thickness, Case::off_centre,  Case::barely,
                                 Case::late_fire,        Case::unreachable, Case::fire_dies};
char const* name_of(Case what);
inline bool never_arrives(Case what) {
    return what == Case::unreachable || what == Case::fire_dies;
}

struct Sample {
    double t = 0, core = 0, medium = 0;
    bool moved = false;    // the probe was, just before
    bool restart = false;  // of the program, just before
};
struct SimulatedCook {
    Class kind{};
    DishEntries entries;
    double target_c = 0;
    bool heating = true;
    std::vector<Sample> samples;
    double arrives_s = -1;      // the centre truly at the target (where the probe sits); < 0: never
    double enough_until_s = 0;  // of one that never arrives: so long the medium would have been enough
};
SimulatedCook simulate(Class kind, unsigned seed, bool judged, Case what = Case::none);

}  // namespace ingle::bench
