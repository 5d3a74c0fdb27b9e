// A plan that asks less than the food class of its dish.
#include "daemon/food/plan_check.hpp"
#include "tests/support/catch.hpp"

using namespace ingle;

namespace {

std::vector<ConfigError> doubts(std::string food, Until until) {
    Settings settings;
    settings.units = TemperatureUnit::fahrenheit;
    settings.vessels.emplace_back();
    settings.vessels.back().kind = VesselKind::smoker;
    PlanSettings plan;
    plan.name = "smoke";
    plan.stages.emplace_back();
    plan.stages.back().name = "smoke";
    plan.stages.back().until = until;
    plan.stages.back().where = {"smoke.toml", 4, 1};
    settings.plans.push_back(plan);
    DishSettings dish;
    dish.name = "roast";
    dish.food = std::move(food);
    dish.plan = "smoke";
    dish.vessel = 0;
    settings.dishes.push_back(dish);
    return plan_doubts(settings);
}

Until core(double fahrenheit) {
    Until until;
    until.core = Temperature{(fahrenheit - 32) / 1.8};
    return until;
}
Until lethality(double log10) {
    Until until;
    until.lethality = log10;
    return until;
}

}  // namespace

// CDC MMWR May 2024 and FDA Food Code 3-401.11(A)(3): 165 degF for bear.
TEST_CASE("a plan below the class's core target is worth a look, with the target and its source") {
    auto const low = doubts("bear-boar", core(145));
    REQUIRE(low.size() == 1);
    CHECK(low[0].where.file == "smoke.toml");
    CHECK(low[0].where.line == 4);
    CHECK_THAT(low[0].text(), INGLE_CONTAINS("roast") && INGLE_CONTAINS("145.0 degF") &&
                                  INGLE_CONTAINS("165.0 degF") && INGLE_CONTAINS("3-401.11(A)(3)"));
    CHECK(doubts("bear-boar", core(165)).empty());
    CHECK(doubts("bear-boar", lethality(6.5)).size() == 1);  // no table covers its worms
    CHECK(doubts("fish", lethality(6.5)).size() == 1);       // no table at all
    CHECK(doubts("whole-meat", lethality(6.5)).empty());     // the table decides
    CHECK(doubts("whole-meat", core(120)).size() == 1);
    CHECK(doubts("", core(120)).empty());
    CHECK(doubts("bear-boar", Until{}).empty());
}
