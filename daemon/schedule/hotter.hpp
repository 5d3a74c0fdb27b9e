// What a hotter medium would change of a dish, as far as its plan's band allows it. Pure.
#pragma once

#include <string>
#include <vector>

#include "daemon/schedule/changes.hpp"

namespace ingle::schedule {

struct Hotter {
    Changed change;  // the dish with that stage at the top of its band
    std::string
        text;  // what to do: "keep smoker near 225 degF in stage smoke of joint, which its band allows"
};
// For each stage yet to come that waits for a core and is heated; only where it makes the stage shorter, or
// the dish possible.
std::vector<Hotter> hotter_mediums(Wanted const& wanted, DishJob const& dish);

}  // namespace ingle::schedule
