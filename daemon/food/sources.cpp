#include "daemon/food/sources.hpp"

#include <algorithm>
#include <array>

namespace ingle {
namespace {

constexpr std::array sources{
    FoodSource{
        "fsis-come-up",
        "USDA FSIS Cooking Guideline for Meat and Poultry Products (Revised Appendix A), December 2021: "
        "50 to 130 degF in at most 6 h, for Staphylococcus aureus",
        "the guideline"},
    FoodSource{
        "staph-heat", "WSU Extension, Bugs that make you sick: Staphylococcal poisoning",
        "the page; it says that heat hardly destroys the toxin and reheating does not make the food good"},
    FoodSource{"usda-2h",
               "USDA: perishable food between 40 and 140 degF at most 2 h in all, 1 h above 90 degF",
               "USDA's release"},
    FoodSource{
        "usda-cooling-log",
        "USDA Guidance for School Food Authorities: discard what is not at 70 degF within 2 h or not at "
        "41 degF in time; FDA Food Code 3-501.14",
        "a cooling log after that guidance; 16 Del. Admin. Code 3-501.14"},
    FoodSource{
        "outage",
        "FoodSafety.gov, food safety during a power outage: 4 h with the door shut, then discard meat, "
        "poultry, fish, eggs and leftovers",
        "public copies of the advice"},
    FoodSource{"nchfp-botulism",
               "National Center for Home Food Preservation, Curing and Smoking Meats, section 5.2.1 Botulism",
               "a copy of the review"},
    FoodSource{"usu-cure",
               "Utah State University Extension, cure and smoke foods: curing salts against botulism",
               "the page"},
    FoodSource{
        "fda-fish-13",
        "FDA Fish and Fishery Products Hazards and Controls Guidance, C. botulinum: grows from 38 degF "
        "(3.3 degC) without air",
        "two copies of the chapter"},
    FoodSource{
        "fc-3-502-12",
        "FDA Food Code 3-502.12: food packed without air at 41 degF or less with a second barrier; fish "
        "only if it stays frozen",
        "Wis. Admin. Code DHS 196 3-502.12 and WAC 246-215-03540"},
    FoodSource{"cdc-trichinella", "CDC, Trichinellosis: prevention and control (15 November 2019)",
               "the page"},
    FoodSource{"cdc-bear", "CDC MMWR May 2024 (bear meat, 165 degF; freezing is not reliable)",
               "reports of it", Evidence::reported},
    FoodSource{
        "fc-3-402-11",
        "FDA Food Code 3-402.11: fish served raw or partly cooked is frozen first, -4 degF for 7 days, or "
        "-31 degF until solid and then 15 h there or 24 h at -4 degF",
        "WAC 246-215-03425 and 25 DCMR A903"},
    FoodSource{"cdc-listeria", "CDC, Tips for preventing Listeria food poisoning (January 2014)",
               "CDC Stacks 36072"},
    FoodSource{"fda-fish-7",
               "FDA Fish and Fishery Products Hazards and Controls Guidance, chapter 7: scombrotoxin",
               "a copy of the chapter; that no cooking destroys it, as Penn State Extension reports it"},
    FoodSource{"toxoplasma",
               "CDC advice on toxoplasmosis as printed in Pediatrics (AAP) and by Minnesota's "
               "Department of Health",
               "both pages"},
    FoodSource{"cdc-cwd", "CDC, About chronic wasting disease: advice to hunters",
               "a health department's copy of it"},
    FoodSource{
        "fc-3-401-11-a2",
        "FDA Food Code 3-401.11(A)(2), editions 2013 to 2022: injected, mechanically tenderised or ground "
        "meat",
        "Wis. ATCP 75 appendix and Minn. R. 4626.0340 (2013); the 17 s of 2017 and 2022 as others report "
        "them"},
    FoodSource{"fsis-stuffing", "USDA FSIS, Stuffing and Food Safety: 165 degF in the stuffing itself",
               "a copy of the leaflet"},
    FoodSource{"fc-3-401-11-a3",
               "FDA Food Code 3-401.11(A)(3): stuffed food, and stuffing that holds meat: 165 degF",
               "Wis. ATCP 75 appendix"},
    FoodSource{"ifas-cereus",
               "University of Florida IFAS FS269, Bacillus cereus; Gilbert, Stringer and Peace 1974 "
               "(J. Hyg. 73: boiled rice hot above 63 degC, or cold within 2 h)",
               "both texts"},
    FoodSource{"fsis-smoking",
               "USDA FSIS, Smoking Meat and Poultry, and USDA's food safety expert: 225 to 300 degF "
               "in the smoker throughout",
               "USDA's advice; the leaflet was read without the figure"},
    FoodSource{
        "fsis-curing",
        "USDA FSIS Processing Inspectors' Calculations Handbook, 1995, chapter 3: nitrite by the green "
        "weight of the meat; too much is toxic",
        "the chapter's text"},
    FoodSource{"usda-brine", "USDA Meat and Poultry Hotline: brining a turkey, overnight up to two days",
               "the video's text"},
    FoodSource{"mdc-venison",
               "Missouri Department of Conservation, Enjoying the Harvest (1998): take off the fat of "
               "deer",
               "the page"},
};

}  // namespace

std::string_view to_word(Evidence evidence) {
    switch (evidence) {
        case Evidence::read:
            return "read";
        case Evidence::reported:
            return "as others report it";
        case Evidence::memory:
            break;
    }
    return "from memory";
}

std::span<FoodSource const> food_sources() {
    return sources;
}

FoodSource const* food_source(std::string_view id) {
    auto const found = std::ranges::find(sources, id, &FoodSource::id);
    return found == sources.end() ? nullptr : &*found;
}

}  // namespace ingle
