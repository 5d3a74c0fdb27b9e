// The clock of a stage, what is told when it ends, a stage in another vessel, and the band of a vessel that
// its last dish has left.
#include "tests/support/catch.hpp"
#include "tests/support/kitchen_run.hpp"

using namespace ingle;
using namespace ingle::test;
using std::chrono::minutes;

namespace {

// A pot "stockpot" and an oven, one dish with this plan.
Settings hall(std::vector<StageSettings> stages) {
    Settings settings;
    settings.name = "village hall";
    add_vessel(settings, "stockpot", VesselKind::pot, add_probe(settings, "stock"));
    add_vessel(settings, "oven", VesselKind::oven, add_probe(settings, "air"));
    add_dish(settings, "goose-roll", 0, -1).plan = "plan";
    PlanSettings plan;
    plan.name = "plan";
    plan.stages = std::move(stages);
    plan.stage_vessels.resize(plan.stages.size());
    settings.plans.push_back(plan);
    settings.channels.push_back({.name = "phone", .kind = "webhook"});
    return settings;
}

StageSettings timed(std::string name, double minutes_of_it,
                    std::optional<std::pair<double, double>> band = {}, int vessel = -1) {
    StageSettings stage;
    stage.name = std::move(name);
    stage.until.time = Duration{minutes_of_it * 60};
    if (band) stage.band = Band{{band->first}, {band->second}};
    stage.vessel = vessel;
    return stage;
}

std::vector<std::string> told(Run const& run, std::string_view kind = "raised") {
    std::vector<std::string> texts;
    for (auto const& effect : run.effects())
        if (auto const* tell = std::get_if<Tell>(&effect);
            tell && tell->kind == kind && tell->alarms[0].subject.kind == SubjectKind::dish)
            texts.push_back(tell->text);
    return texts;
}

DishView dish(Run& run) {
    return run.kitchen().view().dishes[0];
}

}  // namespace

TEST_CASE("180 to 190 degF for half an hour means at the simmer") {
    Run run(hall({timed("poach", 30, std::pair{82.0, 88.0}), timed("rest", 10)}));
    run.probe("stock", probe_of(Series{{0, 20}, {30, 85}, {200, 85}}));
    run.probe("air", probe_of(Series{{0, 20}, {200, 20}}, 2));
    run.tell(Begin{0});
    run.until(20);
    CHECK(dish(run).clock.state == "waits for its band");
    CHECK(dish(run).clock.left == minutes(30));
    run.until(40);  // in the band for 8 to 12 min
    REQUIRE(dish(run).clock.left);
    CHECK(dish(run).clock.state == "counts");
    CHECK_THAT(seconds(*dish(run).clock.left) / 60, WithinAbs(20, 2.5));
    CHECK(dish(run).stage == "poach");
    run.until(65);
    CHECK(dish(run).stage == "rest");
    auto const ended = run.events("stage-ended");
    REQUIRE(ended.size() == 1);
    CHECK_THAT(ended[0].first, WithinAbs(60, 2.5));
    CHECK(run.alarms("stage-over").size() == 1);
    REQUIRE(told(run).size() == 1);
    CHECK_THAT(told(run)[0], INGLE_CONTAINS("goose-roll: poach ended after"));
    CHECK_THAT(told(run)[0], INGLE_CONTAINS("rest has begun"));
    run.tell(Acknowledge{{}, "maria"});
    CHECK(run.kitchen().view().alarms.empty());
    run.until(80);
    CHECK(run.alarms("dish-ready").size() == 1);
    REQUIRE(told(run).size() == 2);
    CHECK_THAT(told(run)[1], INGLE_CONTAINS("with it the plan. Not known: whether the core reached"));
    CHECK(told(run, "cleared").empty());
}

TEST_CASE("a plan that is over says nothing of a core that is raw") {
    auto const [core_c, food, says] = GENERATE(table<double, std::string, std::string>(
        {{20, "whole-meat", "the core did not reach"}, {20, "shelf-stable", ": the dish is ready."}}));
    auto settings = hall({timed("fry", 12)});
    settings.dishes[0].food = food;
    settings.dishes[0].core = add_probe(settings, "core");
    Run run(settings);
    run.probe("stock", probe_of(Series{{0, 85}, {30, 85}}));
    run.probe("core", probe_of(Series{{0, core_c}, {30, core_c}}));
    run.tell(Begin{0});
    run.until(15);
    REQUIRE_FALSE(told(run).empty());
    CHECK_THAT(told(run).back(), INGLE_CONTAINS("fry ended after 12 min, and with it the plan"));
    CHECK_THAT(told(run).back(), INGLE_CONTAINS(says));
}

TEST_CASE("counts = from-begin, as a plan can say") {
    auto poach = timed("poach", 30, std::pair{82.0, 88.0});
    poach.counts_from_begin = true;
    Run run(hall({poach, timed("rest", 10)}));
    run.probe("stock", probe_of(Series{{0, 20}, {60, 85}}));
    run.tell(Begin{0});
    run.until(31);
    CHECK(dish(run).stage == "rest");
}

TEST_CASE("a long excursion stops the clock, and a restart does not lose what was counted") {
    Run run(hall({timed("poach", 60, std::pair{82.0, 88.0})}));
    run.probe("stock", probe_of(Series{{0, 85}, {20, 85}, {22, 75}, {52, 75}, {54, 85}, {200, 85}}));
    run.tell(Begin{0});
    run.until(50);
    CHECK(dish(run).clock.state == "stopped: outside its band");
    auto const left = seconds(*dish(run).clock.left);
    run.until(51);
    CHECK(seconds(*dish(run).clock.left) == left);
    run.restart(Span(0));
    run.until(51.5);
    CHECK_THAT(seconds(*dish(run).clock.left), WithinAbs(left, 2));
    run.until(90);
    CHECK(dish(run).stage == "done");  // about 20 + 10 of the excursion + 30
    CHECK(run.events("stage-ended")[0].first > 80);
}

TEST_CASE("a stage in another vessel waits for the cook and does not claim that the dish was moved") {
    Run run(hall({timed("poach", 10), timed("roast", 20, std::pair{190.0, 210.0}, 1)}));
    run.probe("stock", probe_of(Series{{0, 85}, {200, 85}}));
    run.probe("air", probe_of(Series{{0, 200}, {200, 200}}, 2));
    run.tell(Begin{0});
    run.until(12);
    CHECK(run.events("stage-began").size() == 1);
    CHECK(dish(run).vessel == 0);
    CHECK(dish(run).clock.state == "over; next is roast");
    REQUIRE(told(run).size() == 1);
    CHECK_THAT(told(run)[0], INGLE_CONTAINS("ingle next goose-roll"));
    CHECK_FALSE(run.kitchen().view().vessels[1].band);
    run.restart(minutes(1));
    run.until(60);
    CHECK(dish(run).vessel == 0);
    CHECK(told(run, "reminder").size() == 1);  // it is still waited for
    run.tell(Next{0});
    CHECK(dish(run).vessel == 1);
    CHECK(dish(run).stage == "roast");
    CHECK(run.kitchen().view().vessels[1].band);
    run.until(62);
    CHECK(run.kitchen().view().alarms.empty());  // `next` was the answer
    run.until(90);
    CHECK(run.alarms("dish-ready").size() == 1);
}

TEST_CASE("a core that cools in a hot pot is not in it: its word for the next stage") {
    auto settings = hall({timed("poach", 10), timed("chill", 60, {}, 1)});
    settings.dishes[0].core = add_probe(settings, "core");
    bool const moved = GENERATE(true, false);
    Run run(settings);
    run.probe("stock", probe_of(Series{{0, 85}, {200, 85}}));
    run.probe("core", moved ? probe_of(Series{{0, 70}, {20, 72}, {60, 50}, {200, 30}}, 2)
                            : probe_of(Series{{0, 70}, {20, 72}, {60, 76}, {200, 82}}, 2));
    run.tell(Begin{0});
    run.until(60);
    CHECK(dish(run).stage == (moved ? "chill" : "poach"));
    if (!moved) return;
    REQUIRE_FALSE(run.events("note").empty());
    CHECK_THAT(run.events("note")[0].second.text, INGLE_CONTAINS("not in stockpot any more"));
}

TEST_CASE("the burner is turned off after dinner: no heat-lost, unless the cook keeps the band") {
    auto settings = hall({timed("poach", 240, std::pair{82.0, 88.0})});
    settings.vessels[0].band = Band{{80}, {90}};  // a standing one
    Series const off{{0, 85}, {60, 85}, {120, 40}, {180, 25}};
    bool const keeps = GENERATE(false, true);
    Run run(settings);
    run.probe("stock", probe_of(off));
    run.tell(Begin{0});
    run.until(60);
    run.tell(End{0});
    CHECK_FALSE(run.kitchen().view().vessels[0].band);
    REQUIRE_FALSE(run.events("note").empty());
    CHECK_THAT(run.events("note").back().second.text, INGLE_CONTAINS("its band has ended"));
    if (keeps) run.tell(Hold{0, Band{{80}, {90}}});
    run.until(80);
    run.restart(minutes(1));
    run.until(170);
    CHECK(run.kitchen().view().vessels[0].band.has_value() == keeps);
    CHECK(run.alarms("heat-lost").empty() == !keeps);
    CHECK(run.alarms("below-band").empty());
    if (keeps) return;
    run.tell(Begin{0});  // a new dish brings the band back
    CHECK(run.kitchen().view().vessels[0].band);
}

TEST_CASE("a fridge stays cold for the others in it") {
    auto settings = hall({timed("brine", 10)});
    settings.vessels[0].kind = VesselKind::fridge;
    settings.vessels[0].band = Band{{1}, {5}};
    Run run(settings);
    run.probe("stock", probe_of(Series{{0, 3}, {60, 3}}));
    run.tell(Begin{0});
    run.until(20);
    run.tell(End{0});
    CHECK(run.kitchen().view().vessels[0].band);
}

TEST_CASE("what the clock tells stands since it came, not since the one before it") {
    auto settings = hall({timed("brine", 10), timed("rest", 20), timed("keep", 60)});
    Run run(settings);
    run.probe("stock", probe_of(Series{{0, 20}, {200, 20}}));
    run.probe("air", probe_of(Series{{0, 20}, {200, 20}}, 2));
    auto const stands = [&](std::string_view name) {
        for (auto const& alarm : run.kitchen().view().alarms)
            if (alarm.type->name == name) return seconds(run.now() - alarm.since) / 60;
        return -1.0;
    };
    run.tell(Begin{0});
    run.tell(StartTimer{minutes(5), "eggs"});
    run.tell(StartTimer{minutes(25), "rice"});
    run.tell(Remind{.text = "stir", .every = minutes(20)});
    run.until(22);
    CHECK_THAT(stands("timer-over"), WithinAbs(17, 0.1));
    CHECK_THAT(stands("stage-over"), WithinAbs(12, 0.1));
    run.until(31);
    CHECK_THAT(stands("timer-over"), WithinAbs(6, 0.1));
    CHECK_THAT(stands("stage-over"), WithinAbs(1, 0.1));
    int worse = 0;
    for (auto const& effect : run.effects())
        if (auto const* tell = std::get_if<Tell>(&effect); tell && tell->reason == "worse")
            for (auto const& alarm : tell->alarms)
                if (alarm.type->prompt) {
                    CHECK(tell->at - alarm.since < std::chrono::seconds(10));
                    ++worse;
                }
    CHECK(worse >= 2);
    // Half an hour after the newest of them it is said once more, of that half hour.
    run.until(56);
    bool repeated = false;
    for (auto const& effect : run.effects())
        if (auto const* tell = std::get_if<Tell>(&effect);
            tell && tell->kind == "reminder" && tell->text.find("rice") != std::string::npos) {
            repeated = true;
            CHECK_THAT(tell->text, INGLE_CONTAINS("Still, after 30 min"));
        }
    CHECK(repeated);
}

TEST_CASE("a timer that ran out while the program was off stands since then") {
    Run run(hall({timed("brine", 10)}));
    run.tell(StartTimer{minutes(5), "eggs"});
    run.until(2);
    run.restart(minutes(20));
    run.until(23);
    auto const alarms = run.kitchen().view().alarms;
    auto const it = std::ranges::find(alarms, std::string_view("timer-over"),
                                      [](Alarm const& alarm) { return alarm.type->name; });
    REQUIRE(it != alarms.end());
    CHECK_THAT(run.minute(it->since), WithinAbs(5, 0.05));
    CHECK_THAT(it->text, INGLE_CONTAINS("(18 min ago)"));
}

TEST_CASE("a band that a person asks for, and that a stage's time counts by, is said to be that") {
    Run run(hall({timed("poach", 30, std::pair{82.0, 88.0}), timed("rest", 10)}));
    run.probe("stock", probe_of(Series{{0, 72}, {200, 72}}));
    run.probe("air", probe_of(Series{{0, 20}, {200, 20}}, 2));
    run.tell(Begin{0});
    run.until(10);
    CHECK(dish(run).clock.state == "waits for its band");
    CHECK(dish(run).counted_by.empty());
    run.tell(Hold{0, Band{{70}, {75}}, {}});
    CHECK_THAT(run.events("note").back().second.text,
               INGLE_CONTAINS(
                   "Of poach of goose-roll the time counts by what stockpot is held at, 70.0 degC to 75.0 "
                   "degC, and not by the plan's 82.0 degC to 88.0 degC."));
    run.until(20);
    CHECK(dish(run).clock.state == "counts");
    CHECK_THAT(dish(run).counted_by, INGLE_CONTAINS("not by the plan's"));
    run.tell(Hold{0, {}, {}});
    CHECK_THAT(dish(run).counted_by, INGLE_CONTAINS("all of the time counts"));
    run.tell(Next{0});
    CHECK(dish(run).counted_by.empty());
}
