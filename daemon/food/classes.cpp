#include "daemon/food/classes.hpp"

#include <algorithm>
#include <array>

#include "daemon/food/step.hpp"

namespace ingle {
namespace {

constexpr std::string_view fsis_chart = "USDA FSIS safe minimum internal temperature chart (April 2025)";
constexpr std::string_view reheat_code = "FDA Food Code 3-403.11(A): reheating, within 2 h";
constexpr std::string_view game_code =
    "FDA Food Code 3-401.11(A)(3), edition 2013: poultry, stuffed food, wild game";

constexpr std::array poultry_targets{
    CoreTarget{165, 15, false, game_code},
    CoreTarget{165, 0, false, fsis_chart},
    CoreTarget{165, 0, false, "FDA Food Code 3-401.11(A)(3), editions 2017 and 2022: less than 1 s"},
};
constexpr std::array ground_targets{
    CoreTarget{160, 0, false, fsis_chart},
    CoreTarget{155, 17, false, "FDA Food Code 3-401.11(A)(2), editions 2017 and 2022"},
};
constexpr std::array whole_targets{
    CoreTarget{145, 180, true,
               "USDA FSIS safe minimum internal temperature chart (April 2025): then rest 3 min"},
    CoreTarget{145, 15, false, "FDA Food Code 3-401.11(A)(1)"},
    CoreTarget{130, 6720, false, "FDA Food Code 2013 3-401.11(B)(2), whole roasts: 112 min"},
};
constexpr std::array pierced_targets{
    CoreTarget{145, 180, false,
               "FDA Food Code 3-401.11(A)(2): injected or mechanically tenderised; or 150 degF for 1 min, "
               "155 degF for 17 s, 158 degF at once"},
};
constexpr std::array bear_targets{
    CoreTarget{165, 15, false, game_code},
    CoreTarget{165, 0, false, "CDC MMWR May 2024 (bear meat) and the Government of Canada table"},
    CoreTarget{160, 0, false, "FoodSafety.gov and older CDC wording for wild game"},
};
constexpr std::array venison_targets{
    CoreTarget{165, 15, false, game_code},
    CoreTarget{160, 0, false, "FoodSafety.gov chart: rabbit and venison, wild or farm-raised"},
};
constexpr std::array cured_ham_targets{
    CoreTarget{145, 180, true, "USDA FSIS chart: ham, fresh or smoked, uncooked: then rest 3 min"},
    CoreTarget{165, 0, false, "USDA FSIS chart: a ham that was fully cooked before, reheated"},
    CoreTarget{140, 0, false,
               "USDA FSIS chart: a ham fully cooked and packed in an inspected plant, reheated"},
};
constexpr std::array fish_targets{
    CoreTarget{145, 15, false, "FDA Food Code 3-401.11(A)(1)"},
    CoreTarget{145, 0, false, fsis_chart},
};
constexpr std::array egg_targets{
    CoreTarget{160, 0, false, "FoodSafety.gov chart: egg dishes"},
    CoreTarget{155, 17, false, "FDA Food Code 3-401.11(A)(2), editions 2017 and 2022"},
};
constexpr std::array plant_targets{
    CoreTarget{135, 0, false, "FDA Food Code 3-401.13: plants cooked to be held hot"},
};
constexpr std::array leftover_targets{
    CoreTarget{165, 15, false, reheat_code},
    CoreTarget{165, 0, false, fsis_chart},
};

// D(150 degF) = 0.172 min, z = 10 degF gives the printed seconds of the FSIS meat table (146 to 157 degF)
// within 1 s after rounding up; printed by a process-lethality sheet for lean ground beef.
constexpr LogLinear meat_log_linear{from_fahrenheit(150), 0.172 * 60, 10.0 / 1.8, from_fahrenheit(130),
                                    from_fahrenheit(160)};
constexpr LogLinear coli_log_linear{60, 3.17 * 60, 6.0, 55, 65};

constexpr std::string_view meat_source =
    "USDA FSIS Cooking Guideline (Revised Appendix A, 2021), beef, pork and lamb, by its log-linear "
    "equivalent "
    "D(150 degF) = 0.172 min, z = 10 degF";
constexpr std::string_view poultry_source =
    "USDA FSIS Cooking Guideline (Revised Appendix A, 2021), tables 3 and 4 at 12 % fat, the longer of "
    "chicken and "
    "turkey; time at each whole degree over the time printed there";
constexpr std::string_view coli_source =
    "Juneja, Snyder and Marmer 1997 (E. coli O157:H7 in ground beef): D(60 degC) = 3.17 min, z = 6.0 degC";
constexpr std::string_view humidity =
    "The guideline counts only with every part at temperature and with a humid oven (below 145 degF at 90 % "
    "relative humidity); a dry smoker is outside it.";
constexpr std::string_view no_game_table =
    "No published table covers this meat; ground beef stands in for it.";
constexpr std::string_view no_trichinella =
    "No published table covers this meat; ground beef stands in for it, and the figure says nothing of "
    "Trichinella: the core target decides.";
constexpr std::string_view bear_caution =
    "Trichinella of bear and boar can survive freezing for months: freezing is not counted (CDC MMWR 2024).";

constexpr std::array<FoodClass, 15> classes{{
    {.name = "ground-poultry",
     .means = "ground or minced poultry, rolls and sausages of it",
     .targets = poultry_targets,
     .model = LethalityModel::fsis_poultry,
     .target_log10 = 7,
     .lethality_source = poultry_source,
     .lethality_caution = humidity},
    {.name = "whole-poultry",
     .means = "whole birds and their parts, game birds too",
     .targets = poultry_targets,
     .model = LethalityModel::fsis_poultry,
     .target_log10 = 7,
     .lethality_source = poultry_source,
     .lethality_caution = humidity,
     .hollow = true},
    {.name = "ground-meat",
     .means = "ground or minced beef, pork, veal, lamb, and raw sausage",
     .targets = ground_targets,
     .model = LethalityModel::fsis_meat,
     .log_linear = meat_log_linear,
     .target_log10 = 6.5,
     .lethality_source = meat_source,
     .lethality_caution = humidity},
    {.name = "whole-meat",
     .means = "whole cuts of beef, pork, veal, lamb",
     .targets = whole_targets,
     .model = LethalityModel::fsis_meat,
     .log_linear = meat_log_linear,
     .target_log10 = 6.5,
     .lethality_source = meat_source,
     .lethality_caution = humidity},
    {.name = "bear-boar",
     .means = "bear, wild boar and other game that carries Trichinella",
     .targets = bear_targets,
     .model = LethalityModel::log_linear,
     .log_linear = coli_log_linear,
     .target_log10 = 6.5,
     .lethality_source = coli_source,
     .lethality_caution = no_trichinella,
     .trichinella_game = true,
     .caution = bear_caution},
    {.name = "venison",
     .means = "deer, elk and other game without Trichinella",
     .targets = venison_targets,
     .model = LethalityModel::log_linear,
     .log_linear = coli_log_linear,
     .target_log10 = 6.5,
     .lethality_source = coli_source,
     .lethality_caution = no_game_table},
    {.name = "fresh-ham",
     .means = "ham and other pork, raw and not cured",
     .targets = whole_targets,
     .model = LethalityModel::fsis_meat,
     .log_linear = meat_log_linear,
     .target_log10 = 6.5,
     .lethality_source = meat_source,
     .lethality_caution = humidity,
     .least_thickness_m = 0.08},
    {.name = "cured-ham",
     .means = "ham cured at home and not cooked yet; one cooked before is `leftover`",
     .targets = cured_ham_targets,
     .model = LethalityModel::fsis_meat,
     .log_linear = meat_log_linear,
     .target_log10 = 6.5,
     .lethality_source = meat_source,
     .lethality_caution = humidity,
     .cured = true,
     .least_thickness_m = 0.08},
    {.name = "fish",
     .means = "fish and shellfish",
     .targets = fish_targets,
     .lethality_caution = "No table of time and temperature is given for fish.",
     .least_thickness_m = 0.03},
    {.name = "egg-dish",
     .means = "egg dishes and custards",
     .targets = egg_targets,
     .lethality_caution = "No table of time and temperature is given for egg dishes.",
     .least_thickness_m = 0.04},
    {.name = "stuffed",
     .means = "stuffed meat, poultry, fish or pasta; the stuffing is the core",
     .targets = poultry_targets,
     .model = LethalityModel::fsis_poultry,
     .target_log10 = 7,
     .lethality_source = poultry_source,
     .lethality_caution = humidity},
    {.name = "stock",
     .means = "stock, soup, gravy",
     .targets = leftover_targets,
     .lethality_caution =
         "No table of time and temperature is given for stock; boiling does not kill spores.",
     .least_thickness_m = 0},
    {.name = "vegetable",
     .means = "vegetables, fruit, grains",
     .targets = {},
     .lethality_caution = "No table of time and temperature is given for vegetables.",
     .hot_hold_targets = plant_targets,
     .least_thickness_m = 0.04},
    {.name = "leftover",
     .means = "food that was cooked before and is reheated",
     .targets = leftover_targets,
     .lethality_caution = "Reheating does not undo toxins that grew before.",
     .cooked_before = true},
    {.name = "shelf-stable",
     .means = "bread, dry goods, sugar, salt: what keeps without a fridge",
     .lethality_caution = "Nothing is asked of food that keeps without a fridge.",
     .perishable = false},
}};

constexpr std::array zones{
    ZoneLimits{40, 140, 2 * 3600.0, 3600.0, "USDA danger zone 40 to 140 degF: 2 h in all, 1 h above 90 degF"},
    ZoneLimits{41, 135, 4 * 3600.0, 4 * 3600.0, "FDA Food Code 41 to 135 degF; 3-501.19(B): 4 h"},
};
constexpr std::array heating{
    HeatingLimit{4 * 3600.0,
                 "FDA Food Code 3-501.19(B): 4 h outside the limits, taken as the most for heating too"},
    HeatingLimit{6 * 3600.0, "USDA FSIS Cooking Guideline 2021: come-up from 50 to 130 degF within 6 h"},
};
constexpr std::array hot_limits{
    HoldLimit{140, "USDA: hot food at 140 degF or above"},
    HoldLimit{135, "FDA Food Code 3-501.16(A)(1): 135 degF or above"},
};
constexpr std::array cold_limits{
    HoldLimit{40, "USDA: refrigerator at 40 degF or below"},
    HoldLimit{41, "FDA Food Code 3-501.16(A)(2): 41 degF or below"},
};

}  // namespace

std::span<FoodClass const> food_classes() {
    return classes;
}

FoodClass const* food_class(std::string_view name) {
    auto const found = std::ranges::find(classes, name, &FoodClass::name);
    return found == classes.end() ? nullptr : &*found;
}

FoodClass prepared(FoodClass food, std::span<std::string const> preparation) {
    auto const is = [&](std::string_view word) {
        return std::ranges::find(preparation, word) != preparation.end();
    };
    auto const asks_more = [&](std::span<CoreTarget const> targets) {
        if (food.targets.empty() || food.targets.front().fahrenheit < targets.front().fahrenheit)
            food.targets = targets;
    };
    bool const whole_cut = food.targets.data() == whole_targets.data() || food.cured;
    if (whole_cut && (is("injected") || is("tenderised"))) food.targets = pierced_targets;
    if (whole_cut && is("ground")) asks_more(ground_targets);
    if (is("stuffed") && !food.targets.empty()) asks_more(poultry_targets);
    return food;
}

std::span<ZoneLimits const> danger_zones() {
    return zones;
}
std::span<HeatingLimit const> heating_limits() {
    return heating;
}
std::span<HoldLimit const> hot_hold_limits() {
    return hot_limits;
}
std::span<HoldLimit const> cold_hold_limits() {
    return cold_limits;
}

}  // namespace ingle
