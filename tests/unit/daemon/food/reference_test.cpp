// The published figures, row by row; the source stands at the top of each file under
// tests/reference/food-safety.
#include <cmath>
#include <numbers>

#include "daemon/food/brine.hpp"
#include "daemon/food/calculate.hpp"
#include "daemon/food/fsis_tables.hpp"
#include "daemon/food/growth.hpp"
#include "daemon/food/lethality.hpp"
#include "daemon/food/trichinella.hpp"
#include "tests/support/catch.hpp"
#include "tests/support/rows.hpp"

using namespace ingle;
using ingle::test::number;
using ingle::test::rows;

namespace {

// "86 min", "0 sec": the figure and whether it is in minutes.
void check_as_printed(Dwell const& dwell, ingle::test::Row const& row) {
    auto const& printed = row.at("printed");
    CHECK(dwell.printed == std::stod(printed));
    CHECK(dwell.in_minutes == (printed.find("min") != std::string::npos));
    CHECK_THAT(dwell.seconds(), WithinAbs(number(row, "seconds"), 1e-9));
}

std::vector<FoodSample> hold(double celsius, double length_s, double step_s = 1) {
    std::vector<FoodSample> series;
    for (double t = 0; t <= length_s + 1e-9; t += step_s) series.push_back({t, celsius});
    return series;
}

}  // namespace

TEST_CASE("all 93 meat rows are as FSIS prints them") {
    auto const table = rows("reference/food-safety/fsis_meat.csv");
    REQUIRE(table.size() == 93);
    for (auto const& row : table) {
        auto const dwell = fsis_meat(std::stoi(row.at("degf")), number(row, "log10"));
        REQUIRE(dwell);
        check_as_printed(*dwell, row);
    }
    CHECK_FALSE(fsis_meat(129, 6.5));
    CHECK_FALSE(fsis_meat(161, 6.5));
    CHECK_FALSE(fsis_meat(145, 6.0));
}

TEST_CASE("all 720 poultry rows are as FSIS prints them") {
    auto const table = rows("reference/food-safety/fsis_poultry.csv");
    REQUIRE(table.size() == 720);
    for (auto const& row : table) {
        auto const species = row.at("species") == "chicken" ? Poultry::chicken : Poultry::turkey;
        auto const dwell = fsis_poultry(species, std::stoi(row.at("degf")), std::stoi(row.at("fat")));
        REQUIRE(dwell);
        check_as_printed(*dwell, row);
    }
    // FSIS: more than 12 % fat, or unknown, is read at 12 %; mixed or other species take the longer.
    CHECK(fsis_poultry(Poultry::turkey, 150, 30)->seconds() ==
          fsis_poultry(Poultry::turkey, 150, 12)->seconds());
    CHECK(fsis_any_poultry(165)->seconds() == 0);
    CHECK(fsis_any_poultry(164)->seconds() == 11.7);  // turkey, 12 %; chicken prints 0
    CHECK_FALSE(fsis_any_poultry(135));
}

TEST_CASE("a missed end point is read against a lower row: 158 degF missed, 27 s at 154 degF") {
    // FSIS Cooking Guideline 2021: the product missed 158 degF, but was at or above 154 degF for 27 s in all.
    auto const& meat = *food_class("whole-meat");
    std::vector<FoodSample> series;
    for (int t = 0; t <= 27; ++t)
        series.push_back({static_cast<double>(t), from_fahrenheit(t < 14 ? 154.0 : 156.5)});
    auto const found = lethality_of(series, meat);
    REQUIRE(found.row);
    CHECK(found.row->fahrenheit == 154);
    CHECK(found.row->asked.seconds() == 27);
    series.pop_back();  // 26 s: not enough
    CHECK_FALSE(lethality_of(series, meat).row);
    series.push_back({27, from_fahrenheit(158)});  // touching 158 degF is enough at once
    CHECK(lethality_of(series, meat).row->fahrenheit == 158);
}

TEST_CASE("every meat row is fulfilled by its own time and by no second less") {
    auto const& meat = *food_class("whole-meat");
    for (int f = 130; f < 158; ++f) {
        auto const asked = fsis_meat(f, 6.5)->seconds();
        auto const at = [&](double length) {
            return lethality_of(hold(from_fahrenheit(f), length, length / 10), meat).row;
        };
        CHECK(at(asked).has_value());
        CHECK_FALSE(at(asked - 1).has_value());
    }
}

TEST_CASE("the published process-lethality example, to 0.001 min") {
    // The sheet adds up by the trapezoid on the lethal rate; its table starts below the meat table's range.
    LogLinear sheet{from_fahrenheit(150), 0.172 * 60, 10 / 1.8, -1000, 1000};
    double trapezoid = 0, exact = 0;
    std::optional<ingle::test::Row> before;
    for (auto const& row : rows("reference/food-safety/process_lethality.csv")) {
        if (before) {
            Step const step{60 * number(*before, "minute"), from_fahrenheit(number(*before, "degf")),
                            60 * number(row, "minute"), from_fahrenheit(number(row, "degf"))};
            trapezoid += lethal_seconds_trapezoid(sheet, step) / 60;
            exact += lethal_seconds(sheet, step) / 60;
        }
        if (!row.at("published_f").empty())
            CHECK_THAT(trapezoid, WithinAbs(number(row, "published_f"), 0.001));
        before = row;
    }
    CHECK_THAT(trapezoid, WithinAbs(0.874, 0.001));
    // The exact integral of straight lines gives 5 % less on the same points: that is what the daemon uses.
    CHECK_THAT(exact, WithinAbs(0.830, 0.001));
}

TEST_CASE("D(150 degF) = 0.172 min and z = 10 degF give the printed seconds of the meat table") {
    auto const& model = food_class("whole-meat")->log_linear;
    for (int f = 146; f <= 157; ++f) {
        double const d = d_value_s(model, from_fahrenheit(f));
        CHECK(std::abs(std::ceil(6.5 * d) - fsis_meat(f, 6.5)->seconds()) <= 1);
        CHECK(std::abs(std::ceil(7.0 * d) - fsis_meat(f, 7.0)->seconds()) <= 1);
    }
    // So holding a row's time is worth its log10, to the rounding of the printed seconds.
    auto const worth = lethality_of(hold(from_fahrenheit(150), 67), *food_class("whole-meat"));
    CHECK_THAT(*worth.computed_log10, WithinAbs(67 / (0.172 * 60), 1e-6));
    CHECK(*worth.log10 == 6.5);  // what is credited is the printed row itself
}

TEST_CASE("poultry is credited by the rows as printed, 7 log10 for a row's own time") {
    auto const& bird = *food_class("ground-poultry");
    for (int f = 136; f < 165; ++f) {
        auto const worth = lethality_of(
            hold(from_fahrenheit(f), fsis_any_poultry(f)->seconds(), 0.05 * fsis_any_poultry(f)->seconds()),
            bird);
        CHECK_THAT(*worth.log10, WithinAbs(7.0, 1e-6));
        CHECK(worth.row->fahrenheit == f);
    }
    CHECK(*lethality_of(hold(from_fahrenheit(165), 1), bird).log10 >= 7);
    CHECK(*lethality_of(hold(from_fahrenheit(135.9), 36000, 60), bird).log10 == 0);
}

TEST_CASE("the historic Trichinella table is for pork, and refused for bear and boar") {
    auto const& pork = *food_class("fresh-ham");
    auto const table = rows("reference/food-safety/trichinella_pork.csv");
    REQUIRE(table.size() == trichinella_pork.size());
    for (auto const& row : table) {
        auto const asked = trichinella_heating(pork, from_fahrenheit(number(row, "degf")));
        CHECK(asked.answer == TrichinellaAnswer::covered);
        CHECK(asked.minutes == number(row, "minutes"));
        for (auto const* game : {"bear-boar", "venison"})
            CHECK(trichinella_heating(*food_class(game), from_fahrenheit(number(row, "degf"))).answer ==
                  TrichinellaAnswer::refused);
    }
    CHECK(trichinella_heating(pork, from_fahrenheit(119)).answer == TrichinellaAnswer::below_table);
    CHECK(trichinella_heating(*food_class("fish"), 60).answer == TrichinellaAnswer::refused);
    for (auto const& food : food_classes())
        CHECK(trichinella_freezing(food).answer == TrichinellaAnswer::refused);
}

TEST_CASE("the dynamic growth example, to 1e-5") {
    // predmicror, documentation "dynamic models": Huang's model, fourth-order Runge-Kutta with steps of 0.01.
    std::vector<FoodSample> profile;
    for (auto const& row : rows("reference/food-safety/growth_profile.csv"))
        profile.push_back({number(row, "time"), number(row, "degc")});
    HuangModel const model{2, 8.8, 0.0886, 8.91, 2};
    CHECK_THAT(huang_growth(model, profile, 1, 0.01), WithinAbs(2.000002, 1e-5));
    CHECK_THAT(huang_growth(model, profile, 5, 0.01), WithinAbs(2.000002, 1e-5));
    CHECK_THAT(huang_growth(model, profile, 15, 0.01), WithinAbs(2.048006, 1e-5));
    CHECK_THAT(huang_growth(model, profile, 25, 0.01), WithinAbs(2.352192, 1e-5));
    CHECK_THAT(huang_growth(model, profile, 30, 0.01), WithinAbs(2.353249, 1e-5));
}

TEST_CASE("the growth bound lies above every published prediction and observation, and not absurdly so") {
    GrowthBound fast, slow;
    fast.add({0, 54.4, 1.5 * 3600, 27});
    slow.add({0, 54.4, 3 * 3600, 27});
    // Juneja, Marks and Thippareddi 2008: uncured beef, 54.4 to 27 degC in 1.5 h: 1.1 (observed 0.43, 0.90);
    // in 3 h: 3.6 (observed 2.4).
    CHECK(fast.log10() > 1.1);
    CHECK(fast.log10() < 3 * 1.1);
    CHECK(slow.log10() > 3.6);
    CHECK(slow.log10() < 3 * 3.6);
    // Labbe and Huang 1995: shortest generation 6.6 min at 43 degC, so no more than ln 2 / 6.6 min.
    CHECK(cardinal_rate(perfringens_beef, 43) < std::numbers::ln2 / 6.6 * 60);
    // Juneja et al. 1994: no growth at 4, 8 and 12 degC in cooked beef; the fit gives next to none.
    CHECK(cardinal_rate(perfringens_beef, 8) == 0);
    CHECK(cardinal_rate(perfringens_beef, 12) < 0.05);
    CHECK(cardinal_rate(perfringens_chicken, 52) == 0);
    // The rate is at its best, and the fitted best, at the optimum.
    CHECK_THAT(cardinal_rate(perfringens_chicken, 46.4), WithinAbs(6.06, 1e-9));
}

TEST_CASE("brine: salometer, saturation, density and freezing point") {
    int checked = 0;
    for (auto const& row : rows("reference/food-safety/brine.csv")) {
        double const x = number(row, "x"), y = number(row, "y");
        auto const& kind = row.at("kind");
        ++checked;
        if (kind == "salometer")
            CHECK_THAT(salt_at_salometer(x).value * 100, WithinAbs(y, 0.0006));
        else if (kind == "saturation")
            CHECK_THAT(saturated_salt(Temperature{x})->value * 100, WithinAbs(y, 1e-9));
        else if (kind == "density")
            CHECK_THAT(*brine_density({x / 100}), WithinAbs(y, 1e-6));
        else if (kind == "freezing")
            CHECK_THAT(brine_freezing_point({x / 100})->celsius, WithinAbs(y, 1e-6));
        else
            --checked;
    }
    CHECK(checked == 69);
    CHECK_FALSE(brine_freezing_point({0.25}));
    CHECK_FALSE(saturated_salt(Temperature{-5}));
}

TEST_CASE("brine from household measures") {
    // USDA Meat and Poultry Hotline: 3/4 cup of table salt per US gallon: 5.47 %, 20.7 degrees of salometer
    // (worked out from the USDA weight of a cup, 292 g). One cup: 7.16 %, 27.1 degrees.
    auto const turkey = *brine_strength({.water_g = *household_grams("water", "gal", 1),
                                         .salt_g = *household_grams("table-salt", "cup", 0.75)});
    CHECK_THAT(turkey.salt.value * 100, WithinAbs(5.47, 0.005));
    CHECK_THAT(turkey.salometer, WithinAbs(20.7, 0.05));
    CHECK(turkey.freezes->celsius < -3);
    CHECK(turkey.boils_higher_by->kelvin > 0.8);
    CHECK_FALSE(turkey.salt_in_all);
    auto const cup = *brine_strength(
        {.water_g = *household_grams("water", "gal", 1), .salt_g = *household_grams("table-salt", "cup", 1)});
    CHECK_THAT(cup.salt.value * 100, WithinAbs(7.16, 0.005));
    CHECK_THAT(cup.salometer, WithinAbs(27.1, 0.05));
    // At equilibrium the salt is shared with the meat: 219 g over 3785.41 + 219 + 5000 g.
    auto const meat = *brine_strength({.water_g = 3785.41, .salt_g = 219, .meat_g = 5000});
    CHECK_THAT(meat.salt_in_all->value * 100, WithinAbs(219 / 90.0441, 1e-9));
    // 36 g in 100 g of water is more than dissolves at 20 degC (26.44 %); 35 g is not.
    CHECK(brine_strength({.water_g = 100, .salt_g = 36.2})->saturated);
    CHECK_FALSE(brine_strength({.water_g = 100, .salt_g = 35})->saturated);
    CHECK_FALSE(brine_strength({.water_g = 0, .salt_g = 35}));
    CHECK_FALSE(household_grams("table-salt", "bucket", 1));
}
