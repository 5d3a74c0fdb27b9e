// Reminders: at a time, every so often, at a temperature by good readings only, at the end of a stage; told,
// acknowledged, kept over a restart.
#include "daemon/cook/reminders.hpp"

#include "tests/support/catch.hpp"
#include "tests/support/kitchen_run.hpp"

using namespace ingle;
using namespace ingle::test;
using std::chrono::minutes;

namespace {

constexpr char due[] = "reminder-due";

Settings oven() {
    auto settings = one_vessel(VesselKind::oven, {});
    auto& dish = add_dish(settings, "roast", 0, add_probe(settings, "core"));
    dish.plan = "plan";
    PlanSettings plan;
    plan.name = "plan";
    for (auto const* name : {"roast", "rest"}) {
        StageSettings stage;
        stage.name = name;
        stage.until.time = Duration{600};
        plan.stages.push_back(stage);
    }
    plan.stage_vessels.resize(2);
    settings.plans.push_back(plan);
    return settings;
}

Remind at_temperature(double celsius, Subject about) {
    Remind remind;
    remind.text = "wrap it";
    remind.celsius = celsius, remind.about = about;
    return remind;
}

constexpr Subject medium{SubjectKind::vessel, 0}, core{SubjectKind::dish, 0};

}  // namespace

TEST_CASE("a reminder at a temperature comes once, from the side that it waited on") {
    Run run(oven());
    run.probe("p", probe_of(Series{{0, 20}, {20, 120}, {40, 20}, {60, 120}}));
    run.until(1);
    run.tell(at_temperature(70, medium));
    CHECK_THAT(run.events("note").back().second.text, INGLE_CONTAINS("risen"));
    run.until(9.9);
    CHECK(run.alarms(due).empty());
    run.until(12);
    REQUIRE(run.alarms(due).size() == 1);
    CHECK(run.alarms(due)[0].raised > 10.4);
    CHECK_THAT(run.alarms(due)[0].text, INGLE_CONTAINS("wrap it (v at 70"));
    CHECK(run.kitchen().view().reminders.at(0).due);
    run.tell(Acknowledge{{}, "maria"});
    CHECK(run.kitchen().view().reminders.empty());
    run.until(60);
    CHECK(run.alarms(due).size() == 1);
}

TEST_CASE("waiting from above it comes on the way down") {
    Run run(oven());
    run.probe("p", probe_of(Series{{0, 100}, {20, 120}, {40, 20}}));
    run.until(1);
    run.tell(at_temperature(70, medium));
    CHECK_THAT(run.events("note").back().second.text, INGLE_CONTAINS("fallen"));
    run.until(29);
    CHECK(run.alarms(due).empty());
    run.until(32);
    CHECK(run.alarms(due).size() == 1);
}

TEST_CASE("a fault, a gap and a moment are no crossing") {
    Run run(oven());
    auto const fault = [](FaultKind kind) {
        return [kind](double second, Instant at) -> std::optional<Reading> {
            if (second > 120 && second < 600) return Reading::faulty(at, kind, "broken");
            if (second > 700 && second < 715) return Reading::good(at, 90);  // a pinched cable
            return Reading::good(at, 60);
        };
    };
    run.probe("p", fault(FaultKind::open));
    run.until(1);
    run.tell(at_temperature(70, medium));
    run.until(30);
    CHECK(run.alarms(due).empty());
    CHECK(run.kitchen().view().reminders.size() == 1);
}

TEST_CASE("before its first good reading it knows no direction, and invents none") {
    Run run(oven());
    run.probe("p", probe_of(Series{{5, 100}, {25, 40}}));
    run.tell(at_temperature(70, medium));
    CHECK_THAT(run.events("note").back().second.text, INGLE_CONTAINS("first good reading"));
    run.until(14);
    CHECK(run.alarms(due).empty());
    run.until(18);
    CHECK(run.alarms(due).size() == 1);
}

TEST_CASE("every so often: again and again, acknowledged or not, and on its own times") {
    Run run(oven());
    Remind baste;
    baste.text = "baste", baste.every = minutes(40);
    run.tell(baste);
    run.until(41);
    REQUIRE(run.alarms(due).size() == 1);
    run.tell(Acknowledge{{}, "maria"});
    CHECK_FALSE(run.kitchen().view().reminders.at(0).due);
    run.until(79.5);
    CHECK(run.alarms(due).size() == 1);
    run.until(81);
    CHECK(run.alarms(due).size() == 2);
    SECTION("over an outage the times that passed are one, and the next is on the grid") {
        run.tell(Acknowledge{{}, "maria"});
        run.restart(minutes(100));  // at 181 min: 120 and 160 passed
        run.until(182);
        CHECK(run.alarms(due).size() == 3);
        auto const next = run.kitchen().view().reminders.at(0).next;
        REQUIRE(next);
        CHECK(std::abs(run.minute(*next) - 200) < 0.1);
    }
    SECTION("stopped, it is over") {
        run.tell(StopReminder{1});
        run.until(200);
        CHECK(run.alarms(due).size() == 2);
        CHECK(run.kitchen().view().reminders.empty());
    }
}

TEST_CASE("at a time, and at the end of a stage, over a restart") {
    Run run(oven());
    run.tell(Begin{0});
    Remind oven_on, gravy;
    oven_on.text = "light the oven", oven_on.at = run.now() + minutes(30);
    gravy.text = "make the gravy", gravy.stage_end = true, gravy.about = core;
    run.tell(oven_on);
    run.tell(gravy);
    CHECK_THAT(run.events("note").back().second.text, INGLE_CONTAINS("the end of roast of roast"));
    run.until(5);
    run.restart(minutes(1));
    CHECK(run.kitchen().view().reminders.size() == 2);
    run.until(9.5);
    CHECK(run.alarms(due).empty());
    run.until(11);
    REQUIRE(run.alarms(due).size() == 1);
    CHECK_THAT(run.alarms(due)[0].text, INGLE_CONTAINS("make the gravy"));
    run.tell(Acknowledge{{}, "maria"});
    run.until(29.9);
    CHECK(run.alarms(due).size() == 1);
    run.until(31);
    REQUIRE(run.alarms(due).size() == 2);
    CHECK_THAT(run.alarms(due)[1].text, INGLE_CONTAINS("light the oven"));
}

TEST_CASE("off for an unknown time, what waited for a time is due and says why; the rest waits on") {
    Run run(oven());
    Memory memory;
    ReminderFacts const facts{[](Subject) { return std::nullopt; }, [](int) { return CookPlace{}; },
                              [](Subject) { return std::string("v"); }};
    Reminders before(TemperatureUnit::celsius), after(TemperatureUnit::celsius);
    std::string told;
    Remind baste;
    baste.text = "baste", baste.every = minutes(40);
    CHECK(before.add(run.now(), baste, facts, told).empty());
    CHECK(before.add(run.now(), at_temperature(70, medium), facts, told).empty());
    before.remember(memory, "reminders.", facts);
    auto const find = [](std::string const& about) {
        return about == "vessel v" ? std::optional(medium) : std::nullopt;
    };
    SECTION("as it was") {
        CHECK(after.recall(memory, "reminders.", run.now(), false, find).empty());
        auto const finding = after.step(run.now(), facts);
        CHECK(finding.truth == Truth::present);
        CHECK_THAT(finding.text, INGLE_CONTAINS("perhaps baste (every 40 min). The program was off for an "
                                                "unknown time"));
        CHECK(finding.text.find("wrap") == std::string::npos);
        Reminders known(TemperatureUnit::celsius);
        CHECK(known.recall(memory, "reminders.", run.now(), true, find).empty());
        CHECK(known.correct(after, run.now()) == "Not due yet: baste, in 40 min.");
        CHECK(known.step(run.now(), facts).truth == Truth::absent);
        CHECK(known.step(run.now() + minutes(40), facts).grade > finding.grade);
    }
    SECTION("what it waits for is gone: said once, and kept for when it is back") {
        auto const nothing = [](std::string const&) { return std::optional<Subject>(); };
        auto const gone = after.recall(memory, "reminders.", run.now(), true, nothing);
        REQUIRE(gone.size() == 1);
        CHECK(gone[0] == "wrap it");
        CHECK(after.view().size() == 1);
        Memory first, second;
        after.remember(first, "reminders.", facts);
        Reminders still(TemperatureUnit::celsius), back(TemperatureUnit::celsius);
        CHECK(still.recall(first, "reminders.", run.now(), true, nothing).empty());
        still.remember(second, "reminders.", facts);
        CHECK(back.recall(second, "reminders.", run.now(), true, find).empty());
        CHECK(back.view().size() == 2);
        Memory last;
        back.remember(last, "reminders.", facts);
        CHECK(last.all() == memory.all());
    }
}

TEST_CASE("what is no reminder is refused with a sentence") {
    Run run(oven());
    Remind nothing;
    nothing.text = "stir";
    run.tell(nothing);
    Remind past = nothing;
    past.at = run.now() - minutes(1);
    run.tell(past);
    Remind often = nothing;
    often.every = std::chrono::seconds(10);
    run.tell(often);
    Remind stage = nothing;
    stage.stage_end = true, stage.about = core;  // it has not begun
    run.tell(stage);
    run.tell(StopReminder{4});
    CHECK(run.events("refused").size() == 5);
    CHECK(run.kitchen().view().reminders.empty());
}

TEST_CASE("a time of the day follows the clock where that is corrected; so long from now does not") {
    std::int64_t const offset = 1'796'000'000'000;
    auto const minute = std::int64_t{60'000};
    auto const by = [&](std::int64_t minutes_ahead, bool proven) {
        return ClockAnchor{offset + minutes_ahead * minute, true, proven};
    };
    auto const next = [](Kitchen const& kitchen, Run const& run) {
        std::vector<long> all;
        for (auto const& one : kitchen.view().reminders)
            all.push_back(one.next ? std::lround(run.minute(*one.next)) : -1);
        return all;
    };
    Run run(oven());
    run.tell(by(0, false));
    Remind light, turn, baste;
    light.text = "light the oven", light.at = run.now() + minutes(60);
    turn.text = "turn it", turn.in = minutes(60);
    baste.text = "baste", baste.every = minutes(60);
    for (auto const& remind : {light, turn, baste}) run.tell(remind);
    run.until(5);
    SECTION("ahead") {
        run.tell(by(30, true));
        CHECK(next(run.kitchen(), run) == std::vector<long>{30, 60, 60});
        run.restart(minutes(1));
        CHECK(next(run.kitchen(), run) == std::vector<long>{30, 60, 60});
        run.tell(by(30, true));
        run.until(31);
        REQUIRE(run.alarms(due).size() == 1);
        CHECK_THAT(run.alarms(due)[0].text, INGLE_CONTAINS("light the oven"));
    }
    SECTION("back") {
        run.tell(by(-10, true));
        CHECK(next(run.kitchen(), run) == std::vector<long>{70, 60, 60});
    }
    SECTION("only after a restart") {
        run.restart(minutes(1));
        run.tell(by(0, false));
        CHECK(next(run.kitchen(), run) == std::vector<long>{60, 60, 60});
        run.tell(by(30, true));
        CHECK(next(run.kitchen(), run) == std::vector<long>{30, 60, 60});
    }
    SECTION("over a reload whose clock is another") {
        Kitchen reloaded(run.settings(), run.now());
        Effects effects;
        reloaded.goes_on(by(30, true), effects);
        reloaded.recall(run.kitchen().remember(), run.now(), effects);
        CHECK(next(reloaded, run) == std::vector<long>{30, 60, 60});
    }
    SECTION("past it: it is due, and says since when") {
        run.tell(by(90, true));
        run.until(5.1);
        REQUIRE(run.alarms(due).size() == 1);
        CHECK_THAT(run.alarms(due)[0].text, INGLE_CONTAINS("light the oven (35 min ago)"));
        run.tell(Acknowledge{{}, "maria"});
        run.tell(by(0, true));
        CHECK(next(run.kitchen(), run) == std::vector<long>{60, 60});  // it was told, and seen
    }
}
