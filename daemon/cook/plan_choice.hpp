// Which plan a running cook goes on by after the plan file was edited. Pure.
#pragma once

#include <cstddef>
#include <span>
#include <string>
#include <string_view>

#include "config/settings.hpp"

namespace ingle {

struct PlanChoice {
    bool edited = false;    // go on by the plan as it is now, at `stage`; else by the one the cook began with
    std::size_t stage = 0;  // place in the chosen plan, from 0
};

enum class NowPlan { same, another };  // the dish has the same plan, or none or another one in its place

// `began_with` and `now`: the stages of the plan then and as the file has it; `place`: the running stage of
// the former. It is clear what is meant where one stage of that name is left, or where nothing but the name
// of the running stage has changed in the same plan.
PlanChoice choose_plan(std::span<StageSettings const> began_with, std::span<StageSettings const> now,
                       std::size_t place, NowPlan plan);

}  // namespace ingle
