// When an alarm that comes back is a new occurrence, what a covering cause may silence and for how long, and
// that a shown text is true now.
#include "daemon/alarms/inhibit.hpp"
#include "tests/support/catch.hpp"
#include "tests/unit/daemon/alarms/desk_bench.hpp"

using namespace ingle;
using namespace ingle::test;

TEST_CASE("acknowledged, cleared and back is a new occurrence and is told") {
    Bench b;
    b.run(60, one(above, pot, true, 72));
    b.command(Acknowledge{1, "maria"});
    b.run(100, one(above, pot, false));
    CHECK(b.desk.open().empty());
    b.run(160, one(above, pot, true, 80));  // within 5 min of the first
    REQUIRE(b.desk.open().size() == 1);
    Alarm const second = b.desk.open()[0];
    CHECK(second.id == 2);
    CHECK(second.state == AlarmState::unacknowledged);
    CHECK(second.since == at(100));  // "for 1 min" is of this one
    CHECK(second.acknowledged_by.empty());
    auto const raised = b.tells("raised");
    REQUIRE(raised.size() == 2);
    CHECK(raised[1].alarms[0].id == 2);
    SECTION("and after a restart in between") {
        Bench c;
        c.run(60, one(above, pot, true, 72));
        c.command(Acknowledge{1, "maria"});
        c.run(100, one(above, pot, false));
        Bench next = c.restarted();
        next.run(next.now + 10, one(above, pot, true, 80));
        CHECK(next.tells("raised").size() == 1);
    }
}

TEST_CASE("not acknowledged, recovery told and back: a new occurrence with its own begin") {
    Bench b;
    b.run(60, one(above, pot, true, 72));
    b.run(120, one(above, pot, false));
    CHECK(b.tells("cleared").size() == 1);
    b.run(180, one(above, pot, true, 72));
    REQUIRE(b.desk.open().size() == 1);
    CHECK(b.desk.open()[0].id == 2);
    CHECK(b.desk.open()[0].since == at(120));
    CHECK(b.tells("raised").size() == 2);
}

TEST_CASE("acknowledged each time, a chattering alarm is told a few times and then not each time") {
    Bench b;
    for (int i = 0; i < 180; ++i) {
        b.run(b.now + 10, one(above, pot, i % 2 == 1, 70.1));
        b.command(Acknowledge{std::nullopt, "maria"});
    }
    CHECK(b.tells("raised").size() <= 4);
    CHECK(b.tells("raised").size() >= 2);
}

TEST_CASE("what went while it was shelved and comes back worse breaks its shelving") {
    Bench b;
    b.run(10, one(above, pot, true, 88));
    b.command(Shelve{1, std::chrono::hours(1), "jonas"});
    b.run(200, one(above, pot, false));
    SECTION("as it was, it stays shelved") {
        b.run(400, one(above, pot, true, 88));
        CHECK(b.desk.open()[0].state == AlarmState::shelved);
        CHECK(b.tells("raised").size() == 1);
    }
    SECTION("with a higher priority") {
        Judged worse = judged(above, pot, true, 97);
        worse.finding.priority = Priority::high;
        b.run(400, {worse});
        CHECK(b.desk.open()[0].state == AlarmState::unacknowledged);
        CHECK(b.desk.open()[0].priority == Priority::high);
        CHECK_FALSE(b.desk.open()[0].shelved_until);
        CHECK(b.tells("raised").size() == 2);
    }
    SECTION("with a higher grade") {
        Judged further = judged(above, pot, true, 97);
        further.finding.grade = 1;
        b.run(400, {further});
        CHECK(b.desk.open()[0].state == AlarmState::unacknowledged);
        CHECK(b.tells("raised").size() == 2);
    }
}

TEST_CASE("another variant of an alarm is another occurrence, with its own delay, begin and notice") {
    auto const variant = [](int which) {
        Judged one = judged(leaving, pot, true);
        one.finding.variant = which;
        one.finding.on_delay = std::chrono::seconds(30);
        one.finding.text = which > 0 ? "at the top" : "at the bottom";
        return std::vector{one};
    };
    Bench b;
    b.run(60, variant(1));
    SECTION("acknowledged or not") {
        bool const seen = GENERATE(true, false);
        int const still_s = GENERATE(0, 20);  // absent in between, for less than the off-delay
        if (seen) b.command(Acknowledge{1, "maria"});
        auto none = variant(1);
        none[0].finding.truth = Truth::absent;
        none[0].finding.off_delay = std::chrono::minutes(1);
        b.run(60 + still_s, none);
        b.run(85 + still_s, variant(-1));
        CHECK(b.changes(Transition::cleared).size() == 1);
        CHECK(b.tells("raised").size() == 1);
        b.run(120 + still_s, variant(-1));
        REQUIRE(b.desk.open().size() == 1);
        CHECK(b.desk.open()[0].id == 2);
        CHECK(b.desk.open()[0].since == at(60 + still_s));
        CHECK(b.desk.open()[0].state == AlarmState::unacknowledged);
        REQUIRE(b.tells("raised").size() == 2);
        CHECK(b.tells("raised")[1].text == "stockpot: at the bottom");
    }
    SECTION("a restart makes none") {
        Bench next = b.restarted();
        next.run(next.now + 60, variant(1));
        CHECK(next.tells("raised").empty());
        CHECK(next.desk.open()[0].id == 1);
    }
    SECTION("what is shelved stays shelved") {
        b.command(Shelve{1, std::chrono::minutes(30), "jonas"});
        b.run(300, variant(-1));
        REQUIRE(b.desk.open().size() == 1);
        CHECK(b.desk.open()[0].state == AlarmState::shelved);
        CHECK(b.desk.open()[0].shelved_until);
        b.run(60 + 1900, variant(-1));
        CHECK(b.desk.open()[0].state == AlarmState::unacknowledged);
    }
}

TEST_CASE("a high alarm is not muted by a lower one") {
    int const judged_by[] = {0};
    auto const both = [&](AlarmType const& cause, Priority priority, bool hot, bool caused) {
        Judged consequence = judged(leaving, pot, hot, 120);
        consequence.probes = judged_by;
        consequence.finding.priority = priority;
        return std::vector<Judged>{consequence,
                                   judged(cause, &cause == &silent ? probe(0) : pot, caused, 90)};
    };
    auto const of = [](Bench const& b, AlarmType const& type) {
        for (Alarm const& a : b.desk.open())
            if (a.type == &type) return a;
        return Alarm{};
    };
    auto const& cause = GENERATE(0, 1) == 0 ? silent : above;
    Bench b;
    SECTION("the cause takes its priority over, and asks anew") {
        b.run(10, both(cause, Priority::low, true, true));
        CHECK(of(b, leaving).state == AlarmState::suppressed_by_design);
        CHECK(of(b, cause).priority == Priority::medium);
        b.command(Acknowledge{{}, "maria"});
        b.run(20, both(cause, Priority::high, true, true));
        CHECK(of(b, leaving).state == AlarmState::suppressed_by_design);
        CHECK(of(b, cause).priority == Priority::high);
        CHECK(of(b, cause).state == AlarmState::unacknowledged);
        REQUIRE(b.tells().size() == 2);
        CHECK(b.tells()[1].reason == "worse");
        b.run(40, both(cause, Priority::low, true, true));  // what was told high stays high
        CHECK(of(b, cause).priority == Priority::high);
    }
    SECTION("what changes while nobody reads it says so, not what was read before") {
        auto const others = [&](Truth of_cause, Truth of_both) {
            auto all = both(cause, of_both == Truth::unknown ? Priority::low : Priority::high, true, true);
            all[0].finding.truth = of_both;
            all[1].finding.truth = of_cause;
            return all;
        };
        b.run(10, both(cause, Priority::low, true, true));
        b.run(20, others(Truth::unknown, Truth::unknown));
        b.command(Acknowledge{{}, "maria"});
        REQUIRE(b.changes(Transition::acknowledged).size() == 1);
        CHECK_THAT(b.changes(Transition::acknowledged)[0].alarm.text,
                   INGLE_CONTAINS("No longer being checked. What was found last: "));
        b.run(30, others(Truth::unknown, Truth::present));  // and lends its words to the one that covers it
        REQUIRE(b.changes(Transition::worsened).size() == 2);  // its own, and that of what covers it
        for (auto const& worse : b.changes(Transition::worsened))
            CHECK(worse.alarm.text == "leaving-band text");
        CHECK_THAT(b.tells().back().text, INGLE_CONTAINS("More urgent now: leaving-band text"));
        CHECK_THAT(of(b, cause).text, INGLE_CONTAINS("No longer being checked"));
    }
    SECTION("what was told high before stays") {
        b.run(10, both(cause, Priority::high, true, false));
        b.run(20, both(cause, Priority::high, true, true));
        CHECK(of(b, leaving).state == AlarmState::unacknowledged);
    }
    SECTION("a door covers nothing high") {
        Judged hot = judged(above, pot, true, 120);
        hot.muted_by = "door-opened";
        b.run(30, {hot});
        CHECK(b.tells().empty());
        hot.finding.priority = Priority::high;
        b.run(40, {hot});
        CHECK(b.tells("raised").size() == 1);
    }
}

TEST_CASE("what covers an alarm by design does so for a bounded time, whatever follows on it") {
    Bench b;
    Judged cold = judged(below, smoker, true, 70);
    while (b.now < seconds(longest_by_design) - 10) {
        cold.muted_by = b.now < 300 ? "door-opened" : "topped-up";
        b.run(b.now + 60, {cold});
        if (b.now < seconds(longest_by_design)) CHECK(b.tells().empty());
    }
    b.run(seconds(longest_by_design) + 10, {cold});
    CHECK(b.tells("raised").size() == 1);
    SECTION("a restart does not begin it anew") {
        Bench c;
        c.run(600, {cold});
        Bench next = c.restarted();
        next.run(seconds(longest_by_design) + 10, {cold});
        CHECK(next.tells("raised").size() == 1);
    }
}

TEST_CASE("a higher grade of the same alarm is told anew and asks for a new acknowledgement") {
    Bench b;
    Judged late = judged(above, pot, true, 72);
    late.finding.grade = 1;
    b.run(10, {late});
    b.command(Acknowledge{1, "maria"});
    late.finding.grade = 2;
    late.finding.text = "the second limit has passed";
    b.run(20, {late});
    REQUIRE(b.desk.open().size() == 1);
    CHECK(b.desk.open()[0].id == 1);
    CHECK(b.desk.open()[0].state == AlarmState::unacknowledged);
    REQUIRE(b.tells().size() == 2);
    CHECK(b.tells()[1].text == "stockpot: Worse: the second limit has passed");
    Bench next = b.restarted();
    next.run(next.now + 60, {late});
    CHECK(next.tells().empty());
    late.finding.grade = 1;
    next.run(next.now + 60, {late});
    CHECK(next.tells().empty());
}

TEST_CASE("a prompt is told, reminded of, and over as soon as it is acknowledged") {
    Bench b;
    Judged rings = judged(rang, Subject{}, true);
    rings.finding.grade = 1;
    rings.finding.text = "20 min are over: turn the tart";
    b.run(10, {rings});
    REQUIRE(b.tells().size() == 1);
    CHECK(b.tells()[0].text == "20 min are over: turn the tart");
    CHECK(b.desk.open()[0].state == AlarmState::unacknowledged);
    b.run(1900, {rings});
    CHECK(b.tells("reminder").size() == 1);
    SECTION("acknowledged") {
        b.command(Acknowledge{std::nullopt, "maria"});
        CHECK(b.desk.open().empty());
        CHECK(b.changes(Transition::cleared).size() == 1);
        b.run(9000, {rings});
        CHECK(b.tells().size() == 2);
        CHECK(b.tells("cleared").empty());
        Bench next = b.restarted();
        next.run(next.now + 60, {rings});
        CHECK(next.tells().empty());
        rings.finding.grade = 2;
        next.run(next.now + 60, {rings});
        CHECK(next.tells("raised").size() == 1);
    }
    SECTION("another one before the first was acknowledged") {
        rings.finding.grade = 2;
        rings.finding.text = "5 min are over: stir; turn the tart";
        b.run(1910, {rings});
        CHECK(b.tells().back().text == "5 min are over: stir; turn the tart");
    }
    SECTION("what was waited for is gone: no word") {
        b.run(2000, one(rang, Subject{}, false));
        CHECK(b.desk.open().empty());
        CHECK(b.tells("cleared").empty());
    }
}

TEST_CASE("what is not checked any more is not told as still so") {
    Bench b;
    auto const hot = judged(above, pot, true, 88.1);
    auto not_known = unknown(above, pot);
    int const read_by[] = {0};
    not_known.probes = read_by;
    b.run(60, {hot});
    REQUIRE(b.tells("raised").size() == 1);
    SECTION("once, in words, without what was read then") {
        b.run(100'000, {not_known});
        auto const reminders = b.tells("reminder");
        REQUIRE(reminders.size() == 1);
        CHECK(reminders[0].reason == "not judged");
        CHECK_THAT(reminders[0].text,
                   INGLE_CONTAINS("It cannot be checked now: look whether it is still so."));
        CHECK_THAT(reminders[0].text, !INGLE_CONTAINS("Still"));
        CHECK_THAT(reminders[0].text, !INGLE_CONTAINS("above-band text"));
        CHECK(reminders[0].alarms[0].text == reminders[0].text);
    }
    SECTION("judged again it is reminded of again") {
        b.run(2000, {not_known});
        b.run(10'000, {hot});
        REQUIRE(b.tells("reminder").size() == 2);
        CHECK_THAT(b.tells("reminder")[1].text, INGLE_CONTAINS("Still, after"));
    }
    SECTION("not where the silent probe is told") {
        b.run(100'000, {not_known, judged(leaving, probe(3), true), judged(open_probe, probe(0), true)});
        for (auto const& tell : b.tells("reminder"))
            for (auto const& alarm : tell.alarms) CHECK(alarm.type->name != "above-band");
    }
    SECTION("who is called late is not told an old text either") {
        Settings two = village_hall();
        two.channels.push_back({.name = "boss", .kind = "webhook", .after = Duration{600}});
        Bench c(two);
        c.run(60, {hot});
        c.run(1000, {not_known});
        auto const tells = c.tells("raised");
        REQUIRE(tells.size() == 2);
        CHECK(tells[1].channel == 1);
        CHECK_THAT(tells[1].text, INGLE_CONTAINS("Not acknowledged for 10 min"));
        CHECK_THAT(tells[1].text, INGLE_CONTAINS("look whether it is still so"));
        CHECK_THAT(tells[1].text, !INGLE_CONTAINS("above-band text"));
    }
}

TEST_CASE("a shown text is true now") {
    Bench b;
    Judged risk = judged(boil_over, pot, true);
    risk.finding.text = "stockpot boils in about 24 min";
    risk.finding.off_delay = std::chrono::minutes(2);
    b.run(60, {risk});
    CHECK(b.desk.open()[0].text == "stockpot boils in about 24 min");
    risk.finding.truth = Truth::absent;  // the burner was turned off
    b.run(90, {risk});
    REQUIRE(b.desk.active("boil-over-risk", pot));
    CHECK_THAT(b.desk.open()[0].text, !INGLE_CONTAINS("24 min"));
    CHECK_THAT(b.desk.open()[0].text, INGLE_CONTAINS("No longer so"));
    SECTION("nor is it reminded of as still so") {
        risk.finding.off_delay = std::chrono::hours(1);
        b.run(1500, {risk});
        CHECK(b.tells("reminder").empty());
    }
    SECTION("suppressed: one line without the old text") {
        Bench c;
        Judged cold = judged(below, smoker, true, 70);
        cold.muted_by = "door-opened";
        c.run(60, {cold});
        CHECK(c.desk.open()[0].text ==
              "Not told for now: it moved as when its door is opened. Told within 20 min if it is still so "
              "then.");
        c.run(601, {cold});
        CHECK_THAT(c.desk.open()[0].text, INGLE_CONTAINS("Told within 10 min"));
        cold.muted_by = "topped-up";
        Bench d;
        d.run(60, {cold});
        CHECK_THAT(d.desk.open()[0].text, INGLE_CONTAINS("as when something cold is put in"));
    }
    SECTION("over and not acknowledged") {
        b.run(400, {risk});
        REQUIRE(b.desk.open().size() == 1);
        CHECK_THAT(b.desk.open()[0].text, INGLE_CONTAINS("It has ended"));
    }
}
