// The word that the begin of a dish is passing: while something can still be done, by what is known, and the
// same each time.
#include "tests/support/catch.hpp"
#include "tests/support/kitchen_run.hpp"

using namespace ingle;
using namespace ingle::test;

namespace {

constexpr char late[] = "late-for-serving";
constexpr std::int64_t noon_ms = 1'790'000'000'000;

StageSettings stage(std::string name, int vessel, std::optional<double> time_s) {
    StageSettings s;
    s.name = std::move(name);
    s.vessel = vessel;
    if (time_s) s.until.time = Duration{*time_s};
    return s;
}

// An hour in the oven, 20 min of rest; to be served `serve_after_min` from now.
Settings hall(double serve_after_min) {
    auto settings = one_vessel(VesselKind::oven, {});
    auto& dish = add_dish(settings, "tart", 0, -1);
    dish.plan = "tart";
    dish.serve_at = noon_ms + static_cast<std::int64_t>(serve_after_min * 60'000);
    PlanSettings plan;
    plan.name = "tart";
    plan.stages = {stage("bake", 0, 3600), stage("rest", 0, 1200)};
    plan.stage_vessels.resize(2);
    settings.plans.push_back(plan);
    return settings;
}

Run kitchen(Settings const& settings, bool clock = true) {
    Run run(settings);
    run.probe("p", probe_of(Series{{0, 20}, {2000, 20}}));
    if (clock) run.tell(ClockAnchor{noon_ms - 5'000'000, true, true});
    return run;
}

}  // namespace

TEST_CASE("a dish that is not begun is told of before its begin passes, and again when it has") {
    auto run = kitchen(hall(120));  // the last begin is at 40 min
    run.until(28);
    CHECK(run.alarms(late).empty());
    run.until(32);
    REQUIRE(run.alarms(late).size() == 1);
    auto const first = run.alarms(late)[0];
    CHECK(first.raised < 31.1);
    CHECK_THAT(first.text, INGLE_CONTAINS("tart is not begun (stage bake in v)"));
    SECTION("begun in time, it is over") {
        run.tell(Begin{0});
        run.until(60);
        CHECK(run.alarms(late).size() == 1);
        CHECK(run.kitchen().view().alarms.empty());
    }
    SECTION("not begun, it says by how much it will be late and what helps, tried by planning again") {
        run.until(50);
        auto const& alarms = run.kitchen().view().alarms;
        REQUIRE(alarms.size() == 1);
        CHECK_THAT(alarms[0].text, INGLE_CONTAINS("will be late"));
        CHECK_THAT(alarms[0].text, INGLE_CONTAINS("What helps: serve tart"));
    }
    SECTION("after its serving time nobody cooks it today") {
        run.until(125);
        for (auto const& alarm : run.kitchen().view().alarms) CHECK_FALSE(alarm.active);
    }
}

TEST_CASE(
    "two that are not begun and cannot both have the oven: the later one is told at once, with what helps") {
    auto settings = hall(120);
    auto second = settings.dishes[0];
    second.name = "pie", *second.serve_at += 60'000;
    settings.dishes.push_back(second);
    auto run = kitchen(settings);
    run.until(5);
    REQUIRE(run.alarms(late).size() == 1);
    auto const text = run.kitchen().view().alarms.at(0).text;
    CHECK_THAT(text, INGLE_CONTAINS("pie is not begun (stage bake in v) and will be late"));
    CHECK_THAT(text, INGLE_CONTAINS("after what is in the way"));
    CHECK_THAT(text, INGLE_CONTAINS("What helps: "));
    // The other one is begun: within seconds it says how late it is now.
    run.tell(Begin{0});
    run.until(5.1);
    CHECK_THAT(run.kitchen().view().alarms.at(0).text, INGLE_CONTAINS("44 min after its time"));
}

TEST_CASE("by nothing that is not known: no clock, no plan, a time that is long over") {
    auto without_clock = kitchen(hall(60), false);
    without_clock.until(5);
    CHECK(without_clock.alarms(late).empty());
    auto settings = hall(60);
    settings.dishes[0].plan.clear();
    auto without_plan = kitchen(settings);
    without_plan.until(5);
    CHECK(without_plan.alarms(late).empty());
    auto yesterday = kitchen(hall(-1000));
    yesterday.until(5);
    CHECK(yesterday.alarms(late).empty());
}

TEST_CASE("a stage of unknown length counts as nothing, and it is said") {
    auto settings = hall(60);
    settings.plans[0].stages[1].until.time.reset();
    settings.plans[0].stages[1].does = Does::cook;
    auto run = kitchen(settings);
    run.until(2);
    REQUIRE(run.alarms(late).size() == 1);
    CHECK_THAT(run.alarms(late)[0].text, INGLE_CONTAINS("How long rest takes is not known"));
}

TEST_CASE("a vessel that another dish cooks in is not free") {
    auto settings = hall(120);
    add_dish(settings, "loaf", 0, -1).plan = "loaf";
    PlanSettings loaf;
    loaf.name = "loaf";
    loaf.stages = {stage("bake", 0, 3000)};
    loaf.stage_vessels.resize(1);
    settings.plans.push_back(loaf);
    auto run = kitchen(settings);
    run.until(1);
    CHECK(run.alarms(late, "tart").empty());
    run.tell(Begin{1});  // in the oven until 51 min
    run.until(3);
    REQUIRE(run.alarms(late, "tart").size() == 1);
    CHECK_THAT(run.alarms(late, "tart")[0].text, INGLE_CONTAINS("after what is in the way"));
}

TEST_CASE("one that was cooked and ended is not asked for again, over a restart too") {
    auto run = kitchen(hall(120));
    run.tell(Begin{0});
    run.until(10);
    run.tell(End{0});
    run.restart();
    run.tell(ClockAnchor{noon_ms - 5'000'000, true, true});
    run.until(60);
    CHECK(run.alarms(late).empty());
}

TEST_CASE("the same kitchen gives the same lines") {
    auto first = kitchen(hall(90)), second = kitchen(hall(90));
    first.until(30), second.until(30);
    CHECK(first.lines() == second.lines());
    CHECK(first.alarms(late).size() == 1);
}
