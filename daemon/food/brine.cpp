#include "daemon/food/brine.hpp"

#include <algorithm>
#include <array>

#include "daemon/food/boiling.hpp"

namespace ingle {
namespace {

constexpr std::string_view usda = "USDA National Nutrient Database for Standard Reference, weights";
constexpr std::string_view labels = "packet labels, which contradict each other";

constexpr std::array weights{
    HouseholdWeight{"table-salt", "cup", 292, usda},
    HouseholdWeight{"table-salt", "tbsp", 18, usda},
    HouseholdWeight{"table-salt", "tsp", 6, usda},
    HouseholdWeight{"table-salt", "dash", 0.4, usda},
    HouseholdWeight{"coarse-kosher-salt", "tsp", 5, labels, true},
    HouseholdWeight{"coarse-kosher-salt", "cup", 241, labels, true},
    HouseholdWeight{"flake-kosher-salt", "tsp", 3, labels, true},
    HouseholdWeight{"granulated-sugar", "cup", 200, usda},
    HouseholdWeight{"granulated-sugar", "tsp", 4.2, usda},
    HouseholdWeight{"brown-sugar-packed", "cup", 220, usda},
    HouseholdWeight{"brown-sugar-packed", "tsp", 4.6, usda},
    HouseholdWeight{"brown-sugar-loose", "cup", 145, usda},
    HouseholdWeight{"brown-sugar-loose", "tsp", 3, usda},
    HouseholdWeight{"molasses", "cup", 337, usda},
    HouseholdWeight{"honey", "cup", 339, usda},
    HouseholdWeight{"water", "cup", 237, usda},
    HouseholdWeight{"water", "fl-oz", 29.6, usda},
    HouseholdWeight{"water", "litre", 1000, usda},
    HouseholdWeight{"water", "gal", water_grams_per_us_gallon, "US gallon of water at its greatest density"},
};

constexpr double full_salometer_percent = 26.395;

struct Point {
    double x, y;
};
constexpr std::array saturation{
    Point{0, 26.29},     Point{4.44, 26.33},  Point{10, 26.36},     Point{15.56, 26.395}, Point{21.11, 26.45},
    Point{26.67, 26.52}, Point{37.78, 26.68}, Point{51.67, 26.92},  Point{65.56, 27.21},  Point{79.44, 27.62},
    Point{93.33, 27.91}, Point{100, 28.12},   Point{104.44, 28.29}, Point{108.7, 28.46}};
constexpr std::array density{Point{0, 998.2},   Point{1, 1005.3},  Point{2, 1012.2},  Point{4, 1026.8},
                             Point{6, 1041.3},  Point{8, 1055.9},  Point{10, 1070.7}, Point{12, 1085.7},
                             Point{14, 1100.9}, Point{16, 1116.2}, Point{18, 1131.9}, Point{20, 1147.8},
                             Point{22, 1164.0}, Point{24, 1180.4}, Point{26, 1197.2}};
constexpr std::array freezing{Point{0, 0},       Point{1, -0.58},   Point{2, -1.13},   Point{3, -1.72},
                              Point{4, -2.35},   Point{5, -2.97},   Point{6, -3.63},   Point{7, -4.32},
                              Point{8, -5.03},   Point{9, -5.77},   Point{15, -10.88}, Point{16, -11.9},
                              Point{17, -12.93}, Point{18, -14.03}, Point{19, -15.21}, Point{20, -16.46},
                              Point{21, -17.78}, Point{22, -19.19}, Point{23, -20.69}, Point{23.3, -21.1}};

std::optional<double> between(std::span<Point const> table, double x) {
    constexpr double hair = 1e-9;
    if (!(x >= table.front().x - hair && x <= table.back().x + hair)) return std::nullopt;
    auto const after = std::ranges::lower_bound(table, x, {}, &Point::x);
    if (after == table.begin()) return after->y;
    auto const& b = after == table.end() ? table.back() : *after;
    auto const& a = after == table.end() ? table[table.size() - 2] : *std::prev(after);
    return a.y + (b.y - a.y) * (x - a.x) / (b.x - a.x);
}

}  // namespace

std::span<HouseholdWeight const> household_weights() {
    return weights;
}

std::optional<double> household_grams(std::string_view ingredient, std::string_view measure, double count) {
    for (auto const& weight : weights)
        if (weight.ingredient == ingredient && weight.measure == measure) return count * weight.grams;
    return std::nullopt;
}

double salometer_degrees(Fraction salt) {
    return 100 * salt.value * 100 / full_salometer_percent;
}

Fraction salt_at_salometer(double degrees) {
    return {degrees / 100 * full_salometer_percent / 100};
}

std::optional<Fraction> saturated_salt(Temperature temperature) {
    auto const percent = between(saturation, temperature.celsius);
    return percent ? std::optional(Fraction{*percent / 100}) : std::nullopt;
}

std::optional<double> brine_density(Fraction salt) {
    return between(density, salt.value * 100);
}

std::optional<Temperature> brine_freezing_point(Fraction salt) {
    auto const c = between(freezing, salt.value * 100);
    return c ? std::optional(Temperature{*c}) : std::nullopt;
}

std::optional<BrineStrength> brine_strength(Brine const& brine) {
    if (!(brine.water_g > 0 && brine.salt_g >= 0 && brine.sugar_g >= 0 && brine.meat_g >= 0))
        return std::nullopt;
    double const whole = brine.water_g + brine.salt_g + brine.sugar_g;
    BrineStrength strength;
    strength.salt = {brine.salt_g / whole};
    strength.sugar = {brine.sugar_g / whole};
    strength.salometer = salometer_degrees(strength.salt);
    if (brine.meat_g > 0) strength.salt_in_all = Fraction{brine.salt_g / (whole + brine.meat_g)};
    // What dissolves is told by the water alone: sugar takes up little of it.
    double const of_water = brine.salt_g / (brine.salt_g + brine.water_g);
    strength.saturated = of_water > saturated_salt(Temperature{20})->value;
    strength.freezes = brine_freezing_point({of_water});
    strength.boils_higher_by = salt_elevation({of_water});
    return strength;
}

}  // namespace ingle
