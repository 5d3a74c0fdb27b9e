// Brine from what a household measures: strength, salometer degrees, what the meat makes of it, and where it
// freezes, boils and is saturated. Percentages are g of salt in 100 g of brine. Pure; any thread.
#pragma once

#include <optional>
#include <span>
#include <string_view>

#include "config/quantity.hpp"

namespace ingle {

struct HouseholdWeight {
    std::string_view ingredient;  // "table-salt"
    std::string_view measure;     // "cup"
    double grams = 0;             // of one
    std::string_view source;
    bool doubtful = false;  // sources contradict each other: weigh it
};
std::span<HouseholdWeight const> household_weights();
// Grams of `count` measures. Nothing if this pair is not in the table.
std::optional<double> household_grams(std::string_view ingredient, std::string_view measure, double count);
constexpr double water_grams_per_us_gallon = 3785.41;  // at its greatest density; 3785.411784 mL

struct Brine {
    double water_g = 0, salt_g = 0, sugar_g = 0, meat_g = 0;
};
struct BrineStrength {
    Fraction salt, sugar;                 // of the brine, by mass
    double salometer = 0;                 // degrees; of the salt alone (sugar makes a float read higher)
    std::optional<Fraction> salt_in_all;  // with the meat: salt over everything, reached at equilibrium
    std::optional<Temperature> freezes;   // empty beyond the eutectic
    std::optional<TemperatureDifference> boils_higher_by;
    bool saturated = false;  // more salt than dissolves at 20 degC
};
// Empty: no water, or a negative mass. Equilibrium by the inspectors' formula for immersion cures: what went
// in, over the green meat and the pickle together.
std::optional<BrineStrength> brine_strength(Brine const& brine);

double salometer_degrees(Fraction salt);  // 100 degrees = 26.395 % at 60 degF
Fraction salt_at_salometer(double degrees);
// Saturation, 0 to 108.7 degC; else nothing (Salt Institute).
std::optional<Fraction> saturated_salt(Temperature temperature);
// kg/m3 at 20 degC, up to 26 %; else nothing (Poradnik fizykochemiczny 1974).
std::optional<double> brine_density(Fraction salt);
// Freezing point, up to the eutectic 23.3 %; else nothing (Lange's Handbook of Chemistry, 15th edition, table
// 5.13; straight lines between its rows, of which 10 to 14 % are missing: there it is up to 0.3 K off).
std::optional<Temperature> brine_freezing_point(Fraction salt);
constexpr std::string_view brine_source =
    "household weights: USDA National Nutrient Database (SR); salometer: 100 degrees = 26.395 % at 60 degF; "
    "freezing: "
    "Lange's Handbook of Chemistry, 15th edition, table 5.13; equilibrium: FSIS Processing Inspectors' "
    "Calculations "
    "Handbook, immersion cure";

}  // namespace ingle
