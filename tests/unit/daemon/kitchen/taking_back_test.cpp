// What was not meant is taken back: a stage begun too early, a cook ended by mistake, a begin said
// afterwards, a note; and a second press of `next` skips no stage.
#include "tests/support/catch.hpp"
#include "tests/support/kitchen_run.hpp"

using namespace ingle;
using namespace ingle::test;
using std::chrono::minutes;

namespace {

Settings hall() {
    Settings settings;
    settings.name = "village hall";
    add_vessel(settings, "stockpot", VesselKind::pot, add_probe(settings, "stock"));
    add_dish(settings, "goose-roll", 0, add_probe(settings, "core"), "ground-poultry").plan = "plan";
    StageSettings poach, rest, chill;
    poach.name = "poach";
    poach.band = Band{{82}, {88}};
    poach.until.time = Duration{3600};
    rest.name = "rest";
    rest.until.time = Duration{1200};
    chill.name = "cool";
    chill.does = Does::chill;
    PlanSettings plan;
    plan.name = "plan";
    plan.stages = {poach, rest, chill};
    plan.stage_vessels.resize(3);
    settings.plans.push_back(plan);
    return settings;
}

struct Hall {
    Run run{hall()};
    Hall() {
        run.probe("stock", probe_of(Series{{0, 85}, {600, 85}}));
        run.probe("core", probe_of(Series{{0, 8}, {60, 50}, {120, 70}, {600, 75}}, 2));
    }
    DishView dish() { return run.kitchen().view().dishes[0]; }
    std::optional<Band> band() { return run.kitchen().view().vessels[0].band; }
    std::string refusal() {
        auto const refused = run.events("refused");
        return refused.empty() ? "" : refused.back().second.text;
    }
    std::string verdict(std::string_view rule) {
        for (auto const& one : dish().verdicts)
            if (one.rule == rule) return one.answer + ": " + one.text;
        return "none";
    }
};

}  // namespace

TEST_CASE(
    "an end that is taken back takes no alarm away: what had reached its band is not on its way to it") {
    Run run(hall());
    run.probe("stock", probe_of(Series{{0, 85}, {20, 85}, {30, 91}, {600, 91}}));
    run.probe("core", probe_of(Series{{0, 8}, {60, 50}, {600, 75}}, 2));
    run.tell(Begin{0});
    run.until(40);
    REQUIRE(run.alarms("above-band").size() == 1);
    run.tell(End{0});
    run.until(40.1);
    run.tell(Back{0});
    run.until(45);
    CHECK(run.kitchen().view().vessels[0].phase == "above band");
    auto const alarms = run.kitchen().view().alarms;
    CHECK(std::ranges::count_if(alarms, [](Alarm const& alarm) {
              return alarm.type->name == "above-band" && alarm.active;
          }) == 1);
}

TEST_CASE("a stage begun too early is taken back as if it had not begun") {
    Hall told, untold;
    for (auto* hall : {&told, &untold}) {
        hall->run.tell(Begin{0});
        hall->run.until(20);
    }
    told.run.tell(Next{0});
    for (auto* hall : {&told, &untold}) hall->run.until(23);
    CHECK(told.dish().stage == "rest");
    CHECK_FALSE(told.band());
    told.run.tell(Back{0});
    for (auto* hall : {&told, &untold}) hall->run.until(30);
    CHECK(told.dish().stage == "poach");
    CHECK(told.dish().clock.left == untold.dish().clock.left);
    CHECK(told.band() == untold.band());
    for (auto const* rule : {"lethality", "danger-zone", "core-target"})
        CHECK(told.verdict(rule) == untold.verdict(rule));
    // The record has both.
    CHECK(told.run.events("stage-began").size() == 2);
    REQUIRE(told.run.events("taken-back").size() == 1);
    CHECK(told.run.events("taken-back")[0].second.text ==
          "goose-roll: the next of 3 min ago is taken back; poach goes on.");
    told.run.until(62);
    untold.run.until(62);
    CHECK(told.dish().stage == untold.dish().stage);
}

TEST_CASE("what was ended by mistake goes on, also after a restart in between") {
    Hall told, untold;
    for (auto* hall : {&told, &untold}) {
        hall->run.tell(Begin{0});
        hall->run.until(20);
    }
    auto const cook = told.dish().cook;
    told.run.tell(End{0});
    told.run.until(25);
    CHECK_FALSE(told.dish().begun);
    told.run.restart();
    // What a back would bring again is no dish that was left behind.
    CHECK(told.run.events("not-restored").empty());
    told.run.until(40);
    untold.run.until(40);
    told.run.tell(Back{0});
    CHECK(told.dish().begun);
    CHECK(told.dish().cook == cook);
    told.run.until(45);
    untold.run.until(45);
    CHECK(told.dish().clock.left == untold.dish().clock.left);
    CHECK(told.band() == untold.band());
    // What was read between the end and the restart is not kept: not known, and said so.
    CHECK_THAT(told.verdict("lethality"),
               INGLE_CONTAINS("36 min measured, up to 42 min with what was not read"));
}

TEST_CASE("a begin that was not meant counts as none, and the pot is held as before") {
    Hall hall;
    hall.run.tell(Hold{0, Band{{80}, {90}}});
    hall.run.until(5);
    hall.run.tell(Begin{0});
    CHECK(hall.band() == Band{{82}, {88}});
    hall.run.until(6);
    hall.run.tell(Back{0});
    CHECK_FALSE(hall.dish().begun);
    CHECK(hall.band() == Band{{80}, {90}});
    hall.run.tell(Back{0});
    CHECK(hall.refusal() == "goose-roll: nothing to take back; a begin, a next or an end can be, for 2 h");
}

TEST_CASE("a reminder of a stage's end waits again when the next is taken back, and goes with the begin") {
    Hall hall;
    hall.run.tell(Begin{0});
    Remind gravy;
    gravy.text = "make the gravy", gravy.stage_end = true, gravy.about = {SubjectKind::dish, 0};
    hall.run.tell(gravy);
    hall.run.until(20);
    hall.run.tell(Next{0});
    hall.run.until(21);
    CHECK(hall.run.kitchen().view().reminders.at(0).due);
    hall.run.tell(Back{0});
    hall.run.until(22);
    CHECK_FALSE(hall.run.kitchen().view().reminders.at(0).due);
    hall.run.tell(Back{0});
    CHECK_THAT(hall.run.events("taken-back").back().second.text, INGLE_CONTAINS("counts as not begun"));
    CHECK(hall.run.events("taken-back").back().second.numbers.back() ==
          std::pair<std::string, double>("not_begun", 1));
    CHECK_THAT(hall.run.events("note").back().second.text, INGLE_CONTAINS("reminder 1 is dropped"));
    CHECK(hall.run.kitchen().view().reminders.empty());
}

TEST_CASE("what is taken back of one cook leaves the reminders of the one before") {
    Hall hall;
    hall.run.tell(Begin{0});
    Remind gravy;
    gravy.text = "make the gravy", gravy.stage_end = true, gravy.about = {SubjectKind::dish, 0};
    hall.run.tell(gravy);
    hall.run.until(5);
    hall.run.tell(End{0});
    hall.run.until(6);
    CHECK(hall.run.kitchen().view().reminders.at(0).due);
    hall.run.tell(Begin{0});
    hall.run.until(7);
    hall.run.tell(End{0});
    hall.run.tell(Back{0});
    hall.run.until(8);
    REQUIRE(hall.run.kitchen().view().reminders.size() == 1);
    CHECK(hall.run.kitchen().view().reminders[0].due);
    hall.run.tell(Back{0});
    hall.run.until(9);
    REQUIRE(hall.run.kitchen().view().reminders.size() == 1);
    CHECK(hall.run.kitchen().view().reminders[0].due);
}

TEST_CASE("next twice within seconds skips no stage") {
    Hall hall;
    hall.run.tell(Begin{0});
    hall.run.until(20);
    hall.run.tell(Next{0, false});
    hall.run.until(20.05);
    hall.run.tell(Next{0, false});
    CHECK(hall.dish().stage == "rest");
    CHECK(hall.refusal() ==
          "goose-roll went on to rest 3 s ago. On once more: `ingle next goose-roll --again`. Back: `ingle "
          "back "
          "goose-roll`");
    hall.run.tell(Next{0, true});
    CHECK(hall.dish().stage == "cool");
    hall.run.tell(Back{0});
    hall.run.tell(Back{0});
    CHECK(hall.dish().stage == "poach");
    hall.run.until(21);
    hall.run.tell(Next{0, false});  // a minute later it is no second press
    CHECK(hall.dish().stage == "rest");
}

TEST_CASE("a begin said afterwards is as one said in time") {
    Hall late, timely;
    late.run.until(20);
    timely.run.until(20);
    timely.run.tell(Begin{0});
    late.run.until(50);
    timely.run.until(50);
    late.run.tell(Begin{0, late.run.now() - minutes(30)});
    for (auto* hall : {&late, &timely}) hall->run.until(55);
    CHECK(late.dish().began == timely.dish().began);
    REQUIRE(late.dish().clock.left);
    CHECK(std::abs(seconds(*late.dish().clock.left - *timely.dish().clock.left)) <= 15);
    CHECK(late.verdict("danger-zone") == timely.verdict("danger-zone"));
    CHECK(late.run.events("stage-began")[0].first == 20);
}

TEST_CASE("a begin said afterwards is given what the record has of before the core began to remember") {
    Hall hall;
    hall.run.until(10);
    Begin begin{0, hall.run.now() - minutes(40), {}};
    for (int s = 0; s < 1800; s += 10)
        begin.read.push_back({0, *begin.when + std::chrono::seconds(s), 85, false});
    hall.run.tell(begin);
    hall.run.until(11);
    CHECK(hall.dish().began == *begin.when);
    REQUIRE(hall.dish().clock.left);
    CHECK(hall.dish().stage == "poach");
    CHECK(*hall.dish().clock.left < minutes(21));
}

TEST_CASE("a begin said afterwards is refused within an earlier cook of the dish, also after a restart") {
    Hall hall;
    hall.run.until(10);
    hall.run.tell(Begin{0});
    hall.run.until(20);
    hall.run.tell(End{0});
    hall.run.until(25);
    hall.run.restart();
    hall.run.tell(Begin{0, hall.run.now() - minutes(10), {}});
    CHECK_THAT(hall.refusal(), INGLE_CONTAINS("was in an earlier cook until 5 min ago"));
    hall.run.tell(Begin{0, hall.run.now() - minutes(4), {}});
    CHECK(hall.dish().begun);
}

TEST_CASE("what was not read before a begin said afterwards is not known, and not called safe") {
    Hall hall;
    hall.run.until(10);
    hall.run.tell(Begin{0, hall.run.now() - std::chrono::hours(9)});
    hall.run.until(15);
    INFO(hall.verdict("danger-zone"));
    CHECK(hall.verdict("danger-zone").find("met") != 0);
}

TEST_CASE("a note is taken back, and the record keeps both") {
    Hall hall;
    hall.run.tell(Note{{SubjectKind::vessel, 0}, "skimmed", {}});
    hall.run.until(1);
    hall.run.restart();
    hall.run.tell(NoteBack{});
    CHECK(hall.run.events("note").size() == 1);
    REQUIRE(hall.run.events("taken-back").size() == 1);
    CHECK(hall.run.events("taken-back")[0].second.text == "the note \"skimmed\" is taken back.");
    CHECK(hall.run.events("taken-back")[0].second.subject == Subject{SubjectKind::vessel, 0});
    hall.run.tell(NoteBack{});
    CHECK(hall.refusal() == "there is no note to take back");
}

TEST_CASE("a hold for two hours counts from the moment that the band is reached, and is told") {
    Run run(hall());
    run.probe("stock", probe_of(Series{{0, 20}, {30, 85}, {400, 85}}));
    run.tell(Hold{0, Band{{82}, {88}}, minutes(120)});
    run.until(20);
    CHECK(run.kitchen().view().timers.empty());
    run.restart();
    run.until(40);
    REQUIRE(run.kitchen().view().timers.size() == 1);
    run.until(140);
    CHECK(run.alarms("timer-over").empty());
    run.until(160);
    REQUIRE(run.alarms("timer-over").size() == 1);
    CHECK(run.alarms("timer-over")[0].text == "2 h are over: stockpot was held as you asked.");
    CHECK(run.kitchen().view().vessels[0].band.has_value());
    run.tell(Hold{0, {}, {}});
    CHECK(run.kitchen().view().timers.empty());
}

TEST_CASE("the time of a hold counts only while its band is the vessel's, and its end is said") {
    Run run(hall());
    run.probe("stock", probe_of(Series{{0, 85}, {400, 85}}));
    run.tell(Hold{0, Band{{81}, {88}}, minutes(120)});
    run.until(10);
    REQUIRE(run.kitchen().view().timers.size() == 1);
    auto const notes = [&] { return run.events("note").back().second.text; };
    SECTION("a plan's band takes its place") {
        run.tell(Begin{0});
        run.until(11);
        CHECK(run.kitchen().view().timers.empty());
        CHECK_THAT(notes(), INGLE_CONTAINS("stockpot is not held as you asked any more: the time that it was "
                                           "to be held, 1 h 5"));
        run.until(20);
        SECTION("and gives it back when the begin is taken back, its time too") {
            run.tell(Back{0});
        }
        SECTION("over a restart too") {
            run.restart();
            run.tell(Back{0});
        }
        REQUIRE_FALSE(run.kitchen().view().dishes[0].begun);
        run.until(21);
        REQUIRE(run.kitchen().view().timers.size() == 1);
        auto const left = run.kitchen().view().timers[0].ends - run.now();
        CHECK(left > minutes(98));
        CHECK(left < minutes(101));  // it was held from 1 min on, and is until 2 h later
        CHECK(run.kitchen().view().vessels[0].band == std::optional(Band{{81}, {88}}));
    }
    SECTION("held anew without a time") {
        run.tell(Hold{0, Band{{80}, {88}}, {}});
        CHECK(run.kitchen().view().timers.empty());
        CHECK_THAT(notes(), INGLE_CONTAINS("is not counted any more"));
    }
    SECTION("one that has rung rings on until it is answered") {
        run.until(140);
        run.tell(Begin{0});
        run.until(141);
        REQUIRE(run.alarms("timer-over").size() == 1);
        CHECK_FALSE(run.alarms("timer-over")[0].cleared);
    }
}

TEST_CASE("an end is not taken back while its core is in another dish that cooks") {
    auto settings = hall();
    settings.dishes.push_back(settings.dishes[0]);
    settings.dishes[1].name = "duck";
    Run run(settings);
    run.until(1);
    run.tell(Begin{0, {}});
    run.tell(End{0});
    run.tell(Begin{1, {}});
    run.until(2);
    REQUIRE(run.kitchen().view().dishes[1].begun);
    run.tell(Back{0});
    CHECK_FALSE(run.kitchen().view().dishes[0].begun);
    run.tell(End{1});
    run.tell(Back{0});
    CHECK(run.kitchen().view().dishes[0].begun);
}

TEST_CASE("an end and a begin that are taken back leave the dish wanted for its serving time") {
    auto settings = hall();
    settings.dishes[0].serve_at = 3 * 3'600'000;  // wall time here: ms since the kitchen's first moment
    for (bool const restarted : {false, true}) {
        Run run(settings);
        run.tell(ClockAnchor{-5'000'000, true});
        auto const cooked = [&] { return run.kitchen().view().dishes[0].cooked; };
        run.tell(Begin{0});
        run.until(5);
        run.tell(End{0});
        run.until(6);
        CHECK(cooked());
        if (restarted) run.restart();
        run.tell(Back{0});
        run.tell(End{0});
        CHECK(cooked());
        run.tell(Back{0});
        if (restarted) run.restart();
        run.tell(Back{0});
        CHECK_FALSE(run.kitchen().view().dishes[0].begun);
        CHECK_FALSE(cooked());
        if (restarted) run.tell(ClockAnchor{-5'000'000, true});
        run.until(175);
        CHECK(run.alarms("late-for-serving").size() == 1);
    }
}
