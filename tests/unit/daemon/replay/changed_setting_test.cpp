// A setting changed for one run: read with its unit, within the limits of the kitchen file.
#include "daemon/replay/changed_setting.hpp"

#include "tests/support/catch.hpp"

using namespace ingle;

TEST_CASE("what-if settings are read with their units") {
    Settings settings;
    VesselSettings pot;
    pot.name = "stockpot";
    settings.vessels.push_back(pot);
    CHECK(apply_setting(settings, "stockpot.band=180 degF to 190 degF").empty());
    CHECK_THAT(settings.vessels[0].band->low.celsius, WithinAbs(82.2222, 1e-3));
    CHECK(apply_setting(settings, R"(stockpot.band = ["175 degF", "195 degF"])").empty());
    CHECK_THAT(settings.vessels[0].band->high.celsius, WithinAbs(90.5556, 1e-3));
    CHECK(apply_setting(settings, "stockpot.band=170 to 194 degF").empty());
    CHECK_THAT(settings.vessels[0].band->high.celsius, WithinAbs(90, 1e-3));
    CHECK(apply_setting(settings, "stockpot.deadband=1.8 degF").empty());
    CHECK_THAT(settings.vessels[0].deadband->kelvin, WithinAbs(1, 1e-9));
    CHECK(apply_setting(settings, "kitchen.altitude=240 m").empty());
    CHECK(apply_setting(settings, "stockpot.band=none").empty());
    CHECK_FALSE(settings.vessels[0].band);
    CHECK_THAT(apply_setting(settings, "stockpot.band=180 to 190"), INGLE_CONTAINS("stockpot.band: \"180\""));
    CHECK_THAT(apply_setting(settings, "stockpot.band=190 degF to 180 degF"), INGLE_CONTAINS("below"));
    CHECK_THAT(apply_setting(settings, "stockpot.band=180 degC to 190 degC"),
               INGLE_CONTAINS("did you mean degF?"));
    CHECK_FALSE(settings.vessels[0].band);
    CHECK_THAT(apply_setting(settings, "kettle.band=none"), INGLE_CONTAINS("no vessel"));
    CHECK_THAT(apply_setting(settings, "stockpot.colour=red"), INGLE_CONTAINS("can be set"));
    CHECK_THAT(apply_setting(settings, "stockpot"), INGLE_CONTAINS("VESSEL.KEY=VALUE"));

    ProbeSettings stock;
    stock.name = "stock";
    settings.probes.push_back(stock);
    CHECK(apply_setting(settings, "stock.calibration=33.8 degF is 32 degF").empty());
    REQUIRE(settings.probes[0].calibration.size() == 1);
    CHECK_THAT(settings.probes[0].calibration[0].reads.celsius, WithinAbs(1, 1e-9));
    CHECK_THAT(apply_setting(settings, "stock.calibration=90 degF is 32 degF"), INGLE_CONTAINS("K"));
    CHECK_THAT(apply_setting(settings, "stock.calibration=1"), INGLE_CONTAINS(" is "));
    CHECK(apply_setting(settings, "stock.calibration=none").empty());
    CHECK(settings.probes[0].calibration.empty());
}

TEST_CASE("a band that is tried holds in every stage in that vessel, and in no other one") {
    Settings settings;
    for (auto const* name : {"stockpot", "kettle"}) {
        VesselSettings vessel;
        vessel.name = name;
        settings.vessels.push_back(vessel);
        DishSettings dish;
        dish.name = std::string("roll in the ") + name;
        dish.vessel = static_cast<int>(settings.vessels.size()) - 1;
        dish.plan = "poach";
        settings.dishes.push_back(dish);
    }
    PlanSettings plan;
    plan.name = "poach";
    plan.stages.resize(3);
    plan.stages[0].band = plan.stages[1].band = Band{{82}, {88}};
    plan.stages[1].vessel = 1;
    settings.plans.push_back(plan);
    REQUIRE(apply_setting(settings, "stockpot.band=70 degC to 75 degC").empty());
    auto const lows = [&](std::size_t dish) {
        auto const number = number_of(settings.plans, settings.dishes[dish].plan);
        REQUIRE(number >= 0);
        std::vector<double> found;
        for (auto const& stage : settings.plans[static_cast<std::size_t>(number)].stages)
            found.push_back(stage.band ? stage.band->low.celsius : 0);
        return found;
    };
    CHECK(lows(0) == std::vector<double>{70, 82, 0});
    CHECK(lows(1) == std::vector<double>{82, 82, 0});
}
