#include "daemon/food/trichinella.hpp"

#include "daemon/food/step.hpp"

namespace ingle {
namespace {

constexpr std::string_view not_game =
    "refused: the table is for Trichinella spiralis in pork, not for the worms of bear, boar and other game; "
    "165 degF "
    "at the core is what CDC (MMWR 2024) and the Food Code ask for";
constexpr std::string_view not_pork = "refused: the table is for pork";
constexpr std::string_view no_freezing =
    "refused: larvae in game have lived through more than 15 weeks of freezing (CDC MMWR 2024); freezing "
    "counts as "
    "no control";

}  // namespace

TrichinellaTime trichinella_heating(FoodClass const& food, double celsius) {
    if (food.trichinella_game || food.name == "venison") return {TrichinellaAnswer::refused, 0, not_game};
    if (food.name != "fresh-ham" && food.name != "cured-ham" && food.name != "whole-meat")
        return {TrichinellaAnswer::refused, 0, not_pork};
    TrichinellaTime found{TrichinellaAnswer::below_table, 0, trichinella_source};
    for (auto const& row : trichinella_pork)
        if (celsius + rounding_k >= from_fahrenheit(row.fahrenheit))
            found = {TrichinellaAnswer::covered, row.minutes, trichinella_source};
    return found;
}

TrichinellaTime trichinella_freezing(FoodClass const&) {
    return {TrichinellaAnswer::refused, 0, no_freezing};
}

}  // namespace ingle
