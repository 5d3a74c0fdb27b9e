// What a core does not know of the past when it starts is taken up when it is known, as if it had been known
// from the start: a logbook that opens late.
#include "tests/unit/daemon/run/past_lives.hpp"

using namespace ingle;
using namespace ingle::past_lives;
using logbook::testing::Scratch;

TEST_CASE("a logbook that opens late is taken up as if it had been open from the start") {
    Scratch dir;
    std::map<std::string, std::string> memories[2];
    std::int64_t alarms[2] = {};
    for (bool const late : {false, true}) {
        auto const path = dir / (late ? "late.db" : "in-time.db");
        first_life(path);
        auto const before = memory_of(path);
        Life life(path, "boot-a", start + Span(200'000), right);
        if (!late) life.recall();
        life.command(right);
        life.run(10, 80);
        if (late) {
            CHECK_FALSE(life.dish(0).begun);
            life.core->remember(life.now);
            REQUIRE(life.writer.flush(Span(10'000)));
            CHECK(memory_of(path) == before);  // nothing was written over it
        }
        life.command(Hold{0, Band{{62}, {72}}});
        life.command(Begin{1});
        life.run(15, 80);
        if (late) {
            life.recall();
            while (life.core->catch_up(Span(1))) {
            }
            CHECK(life.count("past-taken-up") == 1);
        }
        CHECK(life.dish(0).cook == 1);
        CHECK(life.dish(1).cook == 2);
        CHECK(life.core->view().vessels[0].band == Band{{62}, {72}});
        auto const open = life.core->view().alarms;
        REQUIRE_FALSE(open.empty());
        CHECK(std::ranges::any_of(open, [](Alarm const& a) { return a.state == AlarmState::shelved; }));
        life.run(5, 80);
        life.end();
        memories[late] = memory_of(path);
        alarms[late] = logbook::testing::number(path, "SELECT count(*) FROM alarm_change");
        CHECK(logbook::testing::number(path, "SELECT count(*) FROM cook") == 2);
        CHECK(logbook::testing::number(path, "SELECT count(*) FROM cook WHERE ended_ms IS NOT NULL") == 0);
        CHECK(logbook::testing::number(
                  path, "SELECT count(*) FROM (SELECT DISTINCT alarm, name, subject FROM alarm_change)") ==
              logbook::testing::number(path, "SELECT count(DISTINCT alarm) FROM alarm_change"));
    }
    CHECK(memories[0] == memories[1]);
    CHECK(alarms[0] == alarms[1]);
}

TEST_CASE("what was done before a logbook opened, and cannot be taken up, is told") {
    Scratch dir;
    auto const path = dir / "l.db";
    first_life(path);
    Life life(path, "boot-a", start + Span(200'000), right);
    life.command(right);
    life.run(5, 65);
    life.command(Begin{0});
    life.run(5, 65);
    life.recall();
    while (life.core->catch_up(Span(1))) {
    }
    CHECK(life.dish(0).cook == 1);
    CHECK(life.core->view().vessels[0].band == Band{{60}, {70}});
    REQUIRE(life.count("not-taken-up") == 1);
    life.run(10, 65);
    CHECK(life.told["raised order-dropped"] == 1);
}

TEST_CASE("an order that was refused before a logbook opened is not done when it opens") {
    Scratch dir;
    auto const path = dir / "l.db";
    first_life(path);
    Life life(path, "boot-a", start + Span(200'000), right);
    life.command(right);
    life.run(5, 65);
    for (Command const& order : {Command(Next{0}), Command(End{0}), Command(Back{0}), Command(StopTimer{1}),
                                 Command(StopReminder{1})}) {
        auto const effects = life.core->command(life.now, order);
        CAPTURE(order.index());
        CHECK(std::ranges::any_of(effects, [](Effect const& effect) {
            auto const* event = std::get_if<Event>(&effect);
            return event && event->name == "refused";
        }));
    }
    life.run(5, 65);
    life.recall();
    while (life.core->catch_up(Span(1))) {
    }
    CHECK(life.dish(0).begun);
    CHECK(life.core->view().vessels[0].band == Band{{60}, {70}});
    auto const open = life.core->view().alarms;
    CHECK(std::ranges::any_of(open, [](Alarm const& a) { return a.state == AlarmState::shelved; }));
    CHECK(life.count("not-taken-up") == 0);
}

TEST_CASE(
    "a next that was said while the outage was unknown leaves the stage that it was said to, and no other") {
    Scratch dir;
    auto const path = dir / "l.db";
    {
        Life life(path, "boot-a", start, right, in_stages());
        life.recall();
        life.command(right);
        life.command(Begin{0});
        life.run(60, 4);
        life.end();
    }
    auto const off_min = GENERATE(5, 60);  // within the first stage, and beyond its end
    auto const truth = midnight + 61'000 + off_min * 60'000 - 5'000;
    ClockAnchor const saved{midnight - 10 * 60'000, true, false};  // as a board without a battery starts
    Life life(path, "boot-b", Instant(Span(5'000)), saved, in_stages());
    life.recall();
    life.command(saved);
    life.run(10, 4);
    REQUIRE(life.dish(0).stage == "first");
    life.command(Next{0});
    REQUIRE(life.dish(0).stage == "second");
    bool const taken_back = GENERATE(false, true), twice = GENERATE(false, true);
    if (twice) {
        life.run(15, 4);
        life.command(Next{0});
        REQUIRE(life.dish(0).stage == "third");
    }
    if (taken_back) {
        life.run(5, 4);
        life.command(Back{0});
        REQUIRE(life.dish(0).stage == (twice ? "second" : "first"));
    }
    life.run(10, 4);
    life.set_clock({truth, true, true});
    CAPTURE(off_min, taken_back, twice);
    bool const first = taken_back && !twice && off_min == 5, third = twice && !taken_back;
    CHECK(life.dish(0).stage == (first ? "first" : third ? "third" : "second"));
    CHECK(life.dish(0).begun);
}

TEST_CASE("an end of a hold that nobody saw does not end the band that the logbook held") {
    Scratch dir;
    auto const path = dir / "hold.db";
    {
        Life before(path, "boot-a", start, right);
        before.recall();
        before.command(right);
        before.command(Hold{0, Band{{60}, {70}}});
        before.end();
    }
    Life life(path, "boot-a", start + Span(200'000), right);
    life.command(right);
    life.run(3, 65);
    REQUIRE_FALSE(life.core->view().vessels[0].band);
    life.command(Hold{0, std::nullopt});
    life.run(3, 65);
    life.recall();
    while (life.core->catch_up(Span(1))) {
    }
    CHECK(life.core->view().vessels[0].band == Band{{60}, {70}});
    CHECK(life.count("not-taken-up") == 1);
    // One that was seen ends.
    life.command(Hold{0, std::nullopt});
    CHECK_FALSE(life.core->view().vessels[0].band);
}
