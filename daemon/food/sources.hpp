// The published sources that the hazards and the plans rest on, and whether each was read. Pure; any thread.
#pragma once

#include <span>
#include <string_view>

namespace ingle {

// `read`: the text itself, an official adoption of it, or an official body's own page; `reported`: only what
// others say of it; `memory`: not seen, so nothing is tested on its figures.
enum class Evidence { read, reported, memory };
std::string_view to_word(Evidence evidence);

struct FoodSource {
    std::string_view id;
    std::string_view title;  // with edition and section
    std::string_view where;  // in which text it was read
    Evidence evidence = Evidence::read;
};

std::span<FoodSource const> food_sources();
FoodSource const* food_source(std::string_view id);  // nullptr if there is none

}  // namespace ingle
