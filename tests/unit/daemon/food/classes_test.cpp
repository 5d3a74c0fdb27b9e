// What each class asks of the core, and the limits that go for all, row by row as the texts print them; the
// sources stand at the top of the files in tests/reference/food-safety.
#include "daemon/food/classes.hpp"

#include <cmath>
#include <map>
#include <string_view>

#include "daemon/food/cooling.hpp"
#include "daemon/food/growth.hpp"
#include "daemon/food/step.hpp"
#include "tests/support/catch.hpp"
#include "tests/support/rows.hpp"

using namespace ingle;
using ingle::test::number;
using ingle::test::rows;

TEST_CASE("each class asks what its sources print, the safer first") {
    std::map<std::string, std::size_t> count;
    for (auto const& row : rows("reference/food-safety/class_targets.csv")) {
        INFO(row.at("food") << " " << row.at("order"));
        auto const* food = food_class(row.at("food"));
        REQUIRE(food);
        auto const place = ++count[row.at("food")] - 1;
        REQUIRE(place < food->targets.size());
        auto const& target = food->targets[place];
        CHECK(target.fahrenheit == number(row, "degf"));
        CHECK(target.hold_s == number(row, "hold_s"));
        CHECK(target.rest == (row.at("rest") == "1"));
        CHECK_THAT(target.celsius(), WithinAbs((number(row, "degf") - 32) / 1.8, 1e-9));
        if (row.at("source").starts_with("3-"))
            CHECK_THAT(std::string(target.source), INGLE_CONTAINS(row.at("source")));
        bool const has_model = food->model != LethalityModel::none;
        CHECK(has_model == !row.at("log10").empty());
        if (has_model) CHECK(food->target_log10 == number(row, "log10"));
    }
    for (auto const& food : food_classes()) CHECK(food.targets.size() == count[std::string(food.name)]);
}

TEST_CASE("plants that are held hot are asked for 135 degF (Food Code 3-401.13)") {
    auto const& plants = *food_class("vegetable");
    REQUIRE(plants.hot_hold_targets.size() == 1);
    CHECK(plants.hot_hold_targets[0].fahrenheit == 135);
    CHECK(plants.hot_hold_targets[0].hold_s == 0);
}

// Process-lethality sheet for lean ground beef: D(150 degF) = 0.172 min, z = 10 degF; the FSIS table goes
// from 130 degF up, and at 158 degF and above it is instantaneous. Juneja, Snyder and Marmer 1997 (Int. J.
// Food Microbiol. 35:231): E. coli O157:H7 in 90 % lean beef, 55 to 65 degC, D(60 degC) = 3.17 min, z = 6.0
// degC.
TEST_CASE("the two log-linear models are the published ones, within the range of their source") {
    for (auto const* name : {"ground-meat", "whole-meat", "fresh-ham", "cured-ham"}) {
        auto const& model = food_class(name)->log_linear;
        CHECK_THAT(to_fahrenheit(model.t_ref_c), WithinAbs(150, 1e-9));
        CHECK_THAT(model.d_ref_s / 60, WithinAbs(0.172, 1e-9));
        CHECK_THAT(model.z_k * 1.8, WithinAbs(10, 1e-9));
        CHECK_THAT(to_fahrenheit(model.lowest_c), WithinAbs(130, 1e-9));
        CHECK_THAT(to_fahrenheit(model.highest_c), WithinAbs(160, 1e-9));
    }
    for (auto const* name : {"bear-boar", "venison"}) {
        auto const& model = food_class(name)->log_linear;
        CHECK(model.t_ref_c == 60);
        CHECK_THAT(model.d_ref_s / 60, WithinAbs(3.17, 1e-9));
        CHECK(model.z_k == 6.0);
        CHECK(model.lowest_c == 55);
        CHECK(model.highest_c == 65);
    }
}

// USDA: 40 to 140 degF, 2 h, 1 h above 90 degF. Food Code 3-501.16, 3-501.19(B), 3-501.14(B). FSIS Cooking
// Guideline 2021: 50 to 130 degF within 6 h. FoodSafety.gov: above 40 degF for more than 2 h.
TEST_CASE("the limits that go for all perishable food are the printed ones") {
    CHECK(danger_zones().front().low_f == 40);
    CHECK(danger_zones().front().high_f == 140);
    CHECK_THAT(danger_zones().front().low_c(), WithinAbs(40.0 / 9, 1e-9));
    CHECK_THAT(danger_zones().front().high_c(), WithinAbs(60, 1e-9));
    CHECK(danger_zones().front().most_s == 2 * 3600);
    CHECK(danger_zones().front().most_hot_room_s == 3600);
    REQUIRE(danger_zones().size() == 2);
    CHECK(danger_zones()[1].low_f == 41);
    CHECK(danger_zones()[1].high_f == 135);
    CHECK(danger_zones()[1].most_s == 4 * 3600);
    CHECK(danger_zones()[1].most_hot_room_s == 4 * 3600);  // the Food Code knows no hot room
    REQUIRE(heating_limits().size() == 2);
    CHECK(heating_limits()[0].most_s == 4 * 3600);
    CHECK(heating_limits()[1].most_s == 6 * 3600);
    REQUIRE(hot_hold_limits().size() == 2);
    CHECK(hot_hold_limits()[0].fahrenheit == 140);
    CHECK(hot_hold_limits()[1].fahrenheit == 135);
    CHECK_THAT(hot_hold_limits()[0].celsius(), WithinAbs(60, 1e-9));
    REQUIRE(cold_hold_limits().size() == 2);
    CHECK(cold_hold_limits()[0].fahrenheit == 40);
    CHECK(cold_hold_limits()[1].fahrenheit == 41);
    CHECK_THAT(cold_hold_limits()[1].celsius(), WithinAbs(5, 1e-9));
    CHECK(warm_most_s == 2 * 3600);
    CHECK(made_warm_cold_within_s == 4 * 3600);
}

TEST_CASE("the cooling rules, stage by stage as their sources print them") {
    std::map<std::string, std::size_t> count;
    for (auto const& row : rows("reference/food-safety/cooling_rules.csv")) {
        INFO(row.at("rule") << " " << row.at("stage"));
        auto const* rule = cooling_rule(row.at("rule"));
        REQUIRE(rule);
        auto const place = ++count[row.at("rule")] - 1;
        REQUIRE(place < rule->stages.size());
        auto const& stage = rule->stages[place];
        CHECK(stage.from_f == number(row, "from_f"));
        CHECK(stage.to_f == number(row, "to_f"));
        CHECK_THAT(stage.from_c(), WithinAbs((number(row, "from_f") - 32) / 1.8, 1e-9));
        CHECK_THAT(stage.to_c(), WithinAbs((number(row, "to_f") - 32) / 1.8, 1e-9));
        if (row.at("hours").empty())
            CHECK(std::isinf(stage.most_s));
        else
            CHECK_THAT(stage.most_s, WithinAbs(3600 * number(row, "hours"), 1e-9));
        CHECK(stage.from_start == (row.at("from_start") == "1"));
        CHECK(rule->printed_start_c == number(row, "printed_start_c"));
    }
    CHECK(cooling_rules().size() == count.size());
    for (auto const& rule : cooling_rules()) CHECK(rule.stages.size() == count[std::string(rule.word)]);
    // In all: 6 h; 2 + 4 h; 1.5 + 5 h; no end; 5 + 10 h. Sure: 120 to 80 degF within an hour (OSU on option
    // 2).
    CHECK(cooling_rule("food-code")->most_s() == 6 * 3600);
    CHECK(cooling_rule("food-code-140")->most_s() == 6 * 3600);
    CHECK(cooling_rule("fsis-1")->most_s() == 6.5 * 3600);
    CHECK(std::isinf(cooling_rule("fsis-2")->most_s()));
    CHECK(cooling_rule("fsis-3")->most_s() == 15 * 3600);
    auto const& certain = cooling_rule("fsis-2")->certain;
    REQUIRE(certain);
    CHECK(certain->from_f == 120);
    CHECK(certain->to_f == 80);
    CHECK(certain->most_s == 3600);
    for (auto const& rule : cooling_rules()) CHECK(rule.needs_cure == (rule.word == "fsis-3"));
}

TEST_CASE("the growth of C. perfringens is bounded by the published cardinal temperatures") {
    for (auto const& row : rows("reference/food-safety/growth_parameters.csv")) {
        auto const& model = row.at("food") == "chicken" ? perfringens_chicken : perfringens_beef;
        CHECK(model.t_min == number(row, "t_min"));
        CHECK(model.t_opt == number(row, "t_opt"));
        CHECK(model.t_max == number(row, "t_max"));
        CHECK(model.mu_opt == number(row, "mu_opt"));
        CHECK_THAT(cardinal_rate(model, model.t_opt), WithinAbs(model.mu_opt, 1e-9));
        CHECK(cardinal_rate(model, model.t_min) == 0);
        CHECK(cardinal_rate(model, model.t_max) == 0);
        // Rosso's formula by hand, a quarter of the way below the optimum.
        double const t = model.t_opt - 0.25 * (model.t_opt - model.t_min), a = t - model.t_min;
        double const span = model.t_opt - model.t_min;
        double const under = span * (span * (t - model.t_opt) -
                                     (model.t_opt - model.t_max) * (model.t_opt + model.t_min - 2 * t));
        CHECK_THAT(cardinal_rate(model, t),
                   WithinAbs(model.mu_opt * (t - model.t_max) * a * a / under, 1e-9));
    }
    CHECK(growth_standard_log10 == 1.0);  // 9 CFR 318.17(a)(2)
}

TEST_CASE(
    "growth along a line is Simpson's sum of the rate, and in a gap the best that it may have come to") {
    auto const ln = [](GrowthBound const& bound) { return bound.log10() * std::log(10.0); };
    GrowthBound still;
    still.add({0, 43.5, 1800, 43.5});
    CHECK_THAT(ln(still), WithinAbs(std::max(cardinal_rate(perfringens_chicken, 43.5), 5.64) / 2, 1e-9));
    // 40 to 30 degC in an hour: a thousand pieces by the midpoint.
    GrowthBound falls;
    falls.add({0, 40, 3600, 30});
    double chicken = 0, beef = 0;
    for (int i = 0; i < 1000; ++i) {
        chicken += cardinal_rate(perfringens_chicken, 40 - 0.01 * (i + 0.5)) / 1000;
        beef += cardinal_rate(perfringens_beef, 40 - 0.01 * (i + 0.5)) / 1000;
    }
    CHECK_THAT(ln(falls), WithinAbs(std::max(chicken, beef), 1e-3));
    // Not read for 3 h, 30 to 30 degC, at most 0.01 K/s: up to the optimum and back takes less, and it stays
    // there.
    GrowthBound unread;
    Step hole{0, 30, 3 * 3600, 30, true};
    hole.fastest = 0.01;
    unread.add(hole);
    auto const most = [&](Cardinal const& model) {
        double const way = (model.t_opt - 30) / 0.01;
        double sum = model.mu_opt * (3 * 3600 - 2 * way) / 3600;
        for (int i = 0; i < 1000; ++i)
            sum += 2 * cardinal_rate(model, 30 + (model.t_opt - 30) * (i + 0.5) / 1000) * way / 3600 / 1000;
        return sum;
    };
    CHECK_THAT(ln(unread), WithinAbs(std::max(most(perfringens_chicken), most(perfringens_beef)), 1e-2));
    // Ten minutes are too short to come to the optimum: the best that it could reach, all the time.
    GrowthBound shorter;
    Step brief{0, 30, 600, 30, true};
    brief.fastest = 0.01;
    shorter.add(brief);
    CHECK_THAT(
        ln(shorter),
        WithinAbs(std::max(cardinal_rate(perfringens_chicken, 33), cardinal_rate(perfringens_beef, 33)) / 6,
                  1e-9));
    unread.clear();
    CHECK(unread.log10() == 0);
}
