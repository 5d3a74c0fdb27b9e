// Two dishes in one vessel whose stages ask for bands that exclude each other, or do not.
#include "tests/support/catch.hpp"
#include "tests/support/kitchen_run.hpp"

using namespace ingle;
using namespace ingle::test;

namespace {

constexpr Band smoke{{93}, {107}}, warm{{60}, {107}}, roast{{157}, {168}};
constexpr int boar = 0, duck = 1;

StageSettings stage(std::string name, Band band) {
    StageSettings one;
    one.name = std::move(name);
    one.band = band;
    one.until.time = Duration{24 * 3600.0};
    return one;
}

Settings smoker_for(std::vector<StageSettings> of_boar, std::vector<StageSettings> of_duck) {
    auto settings = one_vessel(VesselKind::smoker, {});
    for (auto const& [dish, stages] :
         {std::pair{"boar", std::move(of_boar)}, std::pair{"duck", std::move(of_duck)}}) {
        add_dish(settings, dish, 0, -1).plan = dish;
        PlanSettings plan;
        plan.name = dish;
        plan.stages = stages;
        plan.stage_vessels.resize(plan.stages.size());
        settings.plans.push_back(std::move(plan));
    }
    return settings;
}

Band held(Run& run) {
    auto const band = run.kitchen().view().vessels[0].band;
    REQUIRE(band);
    return *band;
}

bool conflicts(Run& run, int dish) {
    auto const view = run.kitchen().view();
    return std::ranges::any_of(view.alarms, [&](Alarm const& alarm) {
        return alarm.type->name == "band-conflict" && alarm.subject.number == dish &&
               alarm.state != AlarmState::returned_unacknowledged;
    });
}

}  // namespace

TEST_CASE("what begins in a vessel that another dish needs otherwise does not change its band, and is told") {
    Run run(smoker_for({stage("smoke", smoke), stage("keep-hot", warm)}, {stage("roast", roast)}));
    run.probe("p", probe_of(Series{{0, 100}, {90, 100}}));
    run.tell(Begin{boar});
    run.until(5);
    run.tell(Begin{duck});
    REQUIRE(run.events("band-conflict").size() == 1);
    CHECK_THAT(run.events("band-conflict")[0].second.text,
               INGLE_CONTAINS("for boar (smoke), and roast of duck asks for"));
    CHECK(held(run) == smoke);
    run.until(8);
    CHECK(held(run) == smoke);
    CHECK(conflicts(run, duck));
    CHECK_FALSE(conflicts(run, boar));

    SECTION("the next stage of the one that was there first keeps the vessel") {
        run.tell(Next{boar});
        CHECK(held(run) == warm);
        run.until(11);
        CHECK(conflicts(run, duck));
        run.tell(End{boar});
        CHECK(held(run) == roast);
        run.until(14);
        CHECK_FALSE(conflicts(run, duck));
    }
    SECTION("a person says what holds, and that stays whatever begins") {
        run.tell(Hold{0, roast});
        run.until(10);
        CHECK(held(run) == roast);
        CHECK_FALSE(conflicts(run, duck));
        run.tell(End{duck});
        run.tell(Begin{duck});
        CHECK(held(run) == roast);
    }
    SECTION("over a restart it is the same dish's band and the same alarm") {
        run.restart(std::chrono::seconds(30));
        run.until(12);
        CHECK(held(run) == smoke);
        CHECK(conflicts(run, duck));
        CHECK(run.alarms("band-conflict").size() == 1);
    }
    SECTION("after an end that is taken back it is as if it had not been, over a restart too") {
        run.tell(End{boar});
        CHECK(held(run) == roast);
        if (GENERATE(false, true)) run.restart(std::chrono::seconds(30));
        run.tell(Back{boar});
        CHECK(held(run) == smoke);
        run.until(10);
        CHECK(conflicts(run, duck));
        CHECK_FALSE(conflicts(run, boar));
    }
}

TEST_CASE(
    "where one vessel can be right for both it is held so, and a next of one leaves the other its band") {
    Run run(
        smoker_for({stage("smoke", smoke), stage("keep-hot", warm)}, {stage("bake", Band{{100}, {120}})}));
    run.probe("p", probe_of(Series{{0, 103}, {90, 103}}));
    run.tell(Begin{boar});
    run.tell(Begin{duck});
    CHECK(held(run) == Band{{100}, {107}});
    run.tell(Next{boar});
    CHECK(held(run) == Band{{100}, {107}});
    run.tell(End{boar});
    CHECK(held(run) == Band{{100}, {120}});
    run.until(5);
    CHECK(run.alarms("band-conflict").empty());
}

TEST_CASE("a common band that nobody can hold is none, and a narrow one that both ask for is one") {
    Band const narrow{{56.9}, {57.1}};
    Run bath(smoker_for({stage("bath", narrow)}, {stage("bath", narrow)}));
    bath.tell(Begin{boar});
    bath.tell(Begin{duck});
    CHECK(held(bath) == narrow);
    CHECK(bath.events("band-conflict").empty());
    Run pot(smoker_for({stage("poach", Band{{80}, {88}})}, {stage("simmer", Band{{87.5}, {95}})}));
    pot.tell(Begin{boar});
    pot.tell(Begin{duck});
    CHECK(held(pot) == Band{{80}, {88}});
    CHECK(pot.events("band-conflict").size() == 1);
}
