// The life cycle, and the cases from the field on alarms (group E, and F18), each with its input.
#include "daemon/alarms/alarm_desk.hpp"

#include "daemon/alarms/shelve.hpp"
#include "tests/support/catch.hpp"
#include "tests/unit/daemon/alarms/desk_bench.hpp"

using namespace ingle;
using namespace ingle::test;

TEST_CASE("on-delay and off-delay, and the states between") {
    Bench b;
    Judged j = judged(above, pot, true, 88);
    j.finding.on_delay = std::chrono::seconds(30);
    j.finding.off_delay = std::chrono::seconds(60);
    b.run(30, {j});
    CHECK(b.desk.open().empty());
    b.run(31, {j});
    REQUIRE(b.desk.open().size() == 1);
    CHECK(b.desk.open()[0].state == AlarmState::unacknowledged);
    CHECK(b.desk.active("above-band", pot));
    b.run(100, {j});
    b.command(Acknowledge{b.desk.open()[0].id, "maria"});
    CHECK(b.desk.open()[0].state == AlarmState::acknowledged);
    CHECK(b.desk.open()[0].acknowledged_by == "maria");
    j.finding.truth = Truth::absent;
    b.run(160, {j});
    CHECK(b.desk.active("above-band", pot));
    b.run(161, {j});
    CHECK(b.desk.open().empty());  // acknowledged and returned: normal

    SECTION("returned before anybody looked stays until somebody has") {
        b.now = 1000;
        j.finding.truth = Truth::present;
        b.run(1040, {j});
        j.finding.truth = Truth::absent;
        b.run(1200, {j});
        REQUIRE(b.desk.open().size() == 1);
        CHECK(b.desk.open()[0].state == AlarmState::returned_unacknowledged);
        CHECK(b.desk.open()[0].id == 2);
        b.command(Acknowledge{std::nullopt, "maria"});
        CHECK(b.desk.open().empty());
    }
}

TEST_CASE("E1: flapping at the edge is one notice, one recovery and one spell") {
    Bench b;
    for (int i = 0; i < 180; ++i) {  // 30 min of 10 s samples, 69.9 and 70.1 in turn, limit 70
        bool const over = i % 2 == 1;
        b.run(b.now + 10, one(above, pot, over, over ? 70.1 : 0));
    }
    b.run(b.now + 900, one(above, pot, false));
    CHECK(b.tells("raised").size() == 1);
    REQUIRE(b.tells("cleared").size() == 1);
    CHECK(b.tells("cleared")[0].alarms[0].spells == 90);
    CHECK(b.changes(Transition::raised).back().alarm.id == 1);  // all of it is one alarm
    CHECK(b.changes(Transition::raised).size() <= 3);           // and the record is not flooded
    CHECK_THAT(b.tells("cleared")[0].text,
               INGLE_CONTAINS("stockpot is no longer above its band. It lasted 30 min"));
    CHECK_THAT(b.tells("cleared")[0].text, INGLE_CONTAINS("furthest 70.1 degC; it came and went 90 times"));
}

TEST_CASE("a high alarm after a quiet time leaves at once, and the rest of a burst is one message") {
    Bench b;
    b.run(10, one(boil_over, pot, true));
    REQUIRE(b.tells("raised").size() == 1);
    CHECK(b.tells("raised")[0].at == at(0));

    std::vector<Judged> burst{judged(boil_over, pot, true)};
    for (auto const& more : {smoker, fridge}) {  // a second apart
        burst.push_back(judged(boil_over, more, true));
        b.run(b.now + 1, burst);
    }
    burst.push_back(judged(below, smoker, true));
    b.run(b.now + 20, burst);
    auto const told = b.tells("raised");
    REQUIRE(told.size() == 3);
    CHECK(told[1].at == at(10));
    CHECK(told[1].alarms.size() == 1);
    CHECK(told[2].at == at(10) + gather_for);
    REQUIRE(told[2].alarms.size() == 2);  // and not the first ones again
    CHECK(told[2].alarms[0].subject == fridge);
    CHECK(told[2].alarms[1].type == &below);

    SECTION("what is of less priority waits for the burst, and goes with what is high") {
        Bench c;
        c.run(2, one(below, smoker, true));
        CHECK(c.tells().empty());
        c.run(20, {judged(below, smoker, true), judged(boil_over, pot, true)});
        REQUIRE(c.tells("raised").size() == 1);
        CHECK(c.tells("raised")[0].at == at(2));
        CHECK(c.tells("raised")[0].alarms.size() == 2);
    }
}

TEST_CASE("E4: only what lasts longer than the delay is told") {
    Bench b;
    auto const warm = [&](double minutes, bool present) {
        Judged j = judged(above, fridge, present, 9);
        j.finding.on_delay = std::chrono::minutes(10);
        b.run(b.now + minutes * 60, {j});
    };
    for (int i = 0; i < 8; ++i) {
        warm(6, true);
        warm(174, false);
    }
    CHECK(b.tells().empty());
    double const began = b.now;
    warm(40, true);
    REQUIRE(b.tells("raised").size() == 1);
    CHECK_THAT(seconds(b.tells("raised")[0].at - at(began)), WithinAbs(603, 1));
}

TEST_CASE("E5: shelving always ends, survives a restart, and what is still true speaks again") {
    Bench b;
    b.run(60, one(below, smoker, true, 90));
    REQUIRE(b.tells().size() == 1);
    double const shelved = b.now;
    b.command(Shelve{1, std::chrono::hours(100), "jonas"});  // "no end": the cap is meant
    REQUIRE(b.desk.open().size() == 1);
    CHECK(b.desk.open()[0].state == AlarmState::shelved);
    CHECK(b.desk.open()[0].shelved_until == at(shelved) + longest_shelving);
    b.run(b.now + 3 * 3600 - 600, one(below, smoker, true, 85));
    CHECK(b.tells().size() == 1);

    // Off for five minutes; the new boot's clock begins at 0.
    Bench next = b.restarted(-from_seconds(b.now - 300));
    next.run(next.now + 3600, one(below, smoker, true, 80));
    REQUIRE(next.desk.open().size() == 1);
    CHECK(next.desk.open()[0].state == AlarmState::shelved);
    CHECK(next.tells().empty());
    double const end = seconds(next.desk.open()[0].shelved_until->time_since_epoch());
    next.run(end, one(below, smoker, true, 80));
    CHECK(next.tells().empty());
    next.run(end + 10, one(below, smoker, true, 80));
    REQUIRE(next.tells().size() == 1);
    CHECK(next.tells()[0].kind == "reminder");
    CHECK(next.tells()[0].reason == "repeat due");
    CHECK(next.desk.open()[0].state == AlarmState::unacknowledged);
}

TEST_CASE("a shelving is broken by something worse on the same subject, and only then") {
    Bench b;
    b.run(10, one(above, pot, true, 88));
    b.command(Shelve{1, default_shelving, "jonas"});
    b.run(20, {judged(above, pot, true, 88), judged(boil_over, smoker, true)});
    CHECK(b.desk.open().back().state == AlarmState::shelved);
    b.run(30, {judged(above, pot, true, 88), judged(leaving, pot, true)});
    CHECK(b.desk.open().back().state == AlarmState::shelved);
    b.run(40, {judged(above, pot, true, 88), judged(boil_over, pot, true)});
    CHECK(b.desk.open().back().state == AlarmState::unacknowledged);

    SECTION("getting worse itself breaks it too") {
        Bench c;
        c.run(10, one(above, pot, true, 88));
        c.command(Shelve{1, default_shelving, "jonas"});
        Judged worse = judged(above, pot, true, 97);
        worse.finding.priority = Priority::high;
        c.run(20, {worse});
        CHECK(c.desk.open()[0].state == AlarmState::unacknowledged);
        CHECK(c.changes(Transition::worsened).size() == 1);
        REQUIRE(c.tells().size() == 2);
        CHECK(c.tells()[1].reason == "worse");
    }
    SECTION("length 0 ends it") {
        Bench c;
        c.run(10, one(above, pot, true, 88));
        c.command(Shelve{1, default_shelving, "jonas"});
        c.command(Shelve{1, Span(0), "jonas"});
        CHECK(c.desk.open()[0].state == AlarmState::unacknowledged);
    }
    SECTION("an alarm that returns while shelved leaves quietly and its recovery is told once") {
        Bench c;
        c.run(10, one(above, pot, true, 88));
        c.command(Shelve{1, default_shelving, "jonas"});
        c.run(1000, one(above, pot, false));
        CHECK(c.tells().size() == 1);
        c.run(3000, one(above, pot, false));
        REQUIRE(c.tells().size() == 2);
        CHECK(c.tells()[1].kind == "cleared");
    }
}

TEST_CASE("E10: eight probes at once are one message") {
    Bench b;
    std::vector<Judged> all;
    for (int i = 0; i < 8; ++i) {
        all.push_back(judged(silent, probe(i), true));
        if (i == 3) b.run(1, all);  // within one second
    }
    b.run(60, all);
    REQUIRE(b.tells().size() == 1);
    CHECK(b.tells()[0].alarms.size() == 8);
    CHECK_THAT(b.tells()[0].text, INGLE_CONTAINS("8 at once: probe-silent of p1, p2"));
    CHECK_THAT(b.tells()[0].text, INGLE_CONTAINS("one cause"));
}

TEST_CASE("F18: two dishes finish in the same minute, both are named, both are listed") {
    Bench b;
    b.run(3, one(done, dish(0), true));
    b.run(30, {judged(done, dish(0), true), judged(done, dish(1), true)});
    std::size_t named = 0;
    for (Tell const& t : b.tells()) named += t.alarms.size();
    CHECK(named == 2);
    CHECK(b.tells().size() == 1);
    CHECK(b.desk.open().size() == 2);
    b.command(Acknowledge{1, "maria"});
    CHECK(b.desk.open()[0].state == AlarmState::unacknowledged);
}

TEST_CASE("F23: a dish that was announced done is not announced again, unless it begins anew") {
    Bench b;
    b.run(60, one(done, dish(0), true));
    b.run(1000, one(done, dish(0), false));  // the probe was taken out
    b.run(2000, one(done, dish(0), true));
    CHECK(b.tells().size() == 1);
    Bench next = b.restarted();
    next.run(3000, one(done, dish(0), false));
    next.run(4000, one(done, dish(0), true));
    CHECK(next.tells().empty());
    next.desk.forget(at(next.now), dish(0), next.effects);
    next.run(5000, one(done, dish(0), true));
    CHECK(next.tells().size() == 1);
}

TEST_CASE("E11: unacknowledged repeats, a second person hears after a while, acknowledging ends it") {
    Settings s = village_hall();
    s.channels.push_back({.name = "neighbour", .kind = "webhook", .after = Duration{600}});
    Bench b(s);
    b.run(600, one(boil_over, pot, true));
    CHECK(b.tells().size() == 1);
    b.run(620, one(boil_over, pot, true));
    auto const tells = b.tells();
    REQUIRE(tells.size() == 3);
    CHECK(tells[1].channel + tells[2].channel == 1);
    for (Tell const& t : {tells[1], tells[2]})
        CHECK(t.reason == (t.channel == 0 ? "repeat due" : "escalated"));
    b.command(Acknowledge{1, "maria"});
    b.run(3 * 3600, one(boil_over, pot, true));
    CHECK(b.tells().size() == 3);
    CHECK(b.desk.open()[0].acknowledged.has_value());
    b.run(4 * 3600, one(boil_over, pot, false));
    CHECK(b.tells("cleared").size() == 2);  // both who knew of it

    SECTION("reminders become rare, and do not end") {
        Bench c;
        c.run(3700, one(boil_over, pot, true));
        CHECK(c.tells("reminder").size() == 6);
        c.run(24 * 3600, one(boil_over, pot, true));
        CHECK(c.tells("reminder").size() == 6 + 22);
    }
}

TEST_CASE("E17: a fault during an alarm is no recovery and no second raise") {
    Bench b;
    b.run(60, one(above, fridge, true, 7.5));
    b.run(360, {unknown(above, fridge)});
    REQUIRE(b.desk.open().size() == 1);
    CHECK_THAT(b.desk.open()[0].text, INGLE_CONTAINS("No longer being checked"));
    b.run(420, one(above, fridge, true, 7.4));
    CHECK(b.tells().size() == 1);
    CHECK(b.changes(Transition::raised).size() == 1);
    CHECK(b.changes(Transition::cleared).empty());
    SECTION("time without data does not count toward the recovery") {
        Judged gone = judged(above, fridge, false);
        gone.finding.off_delay = std::chrono::seconds(60);
        for (int i = 0; i < 20; ++i) {
            b.run(b.now + 30, {gone});
            b.run(b.now + 30, {unknown(above, fridge)});
        }
        CHECK(b.desk.active("above-band", fridge));
    }
}

TEST_CASE("a dead probe is one alarm: what is judged by it is muted, and told at once when the cause goes") {
    int const judged_by[] = {0};
    Bench b;
    auto const both = [&](bool broken, bool hot) {
        Judged consequence = judged(above, pot, hot, 120);
        consequence.probes = judged_by;
        return std::vector<Judged>{consequence, judged(open_probe, probe(0), broken)};
    };
    b.run(10, both(true, true));  // the cause still waits for its delay of 20 s: so does the consequence
    CHECK(b.desk.open().empty());
    b.run(30, both(true, true));
    REQUIRE(b.desk.open().size() == 2);
    REQUIRE(b.tells().size() == 1);
    CHECK(b.tells()[0].alarms.size() == 1);
    CHECK(b.tells()[0].alarms[0].type == &open_probe);
    for (Alarm const& a : b.desk.open())
        if (a.type == &above) {
            CHECK(a.state == AlarmState::suppressed_by_design);
            CHECK(a.muted_by == "probe-open");
        }
    SECTION("the cause goes, the consequence is still true") {
        double const repaired = b.now;
        b.run(40, both(false, true));
        auto const raised = b.tells("raised");
        REQUIRE(raised.size() == 2);
        CHECK(raised[1].alarms[0].type == &above);
        CHECK(raised[1].at <= at(repaired) + gather_for + std::chrono::seconds(1));
    }
    SECTION("both go: no word about the muted one") {
        b.run(200, both(false, false));
        CHECK(b.tells("raised").size() == 1);
        REQUIRE(b.tells("cleared").size() == 1);
        CHECK(b.tells("cleared")[0].alarms.size() == 1);
        CHECK(b.desk.open().size() == 1);  // the probe's, not acknowledged; the muted one left no trace
    }
    SECTION("the same probe elsewhere mutes nothing here") {
        Bench c;
        c.run(60, {judged(above, pot, true, 88), judged(open_probe, probe(0), true)});
        CHECK(c.tells("raised").size() == 2);
    }
}

TEST_CASE("an open door mutes the band for as long as its watch says") {
    Bench b;
    Judged cold = judged(below, smoker, true, 70);
    cold.muted_by = "door-opened";
    b.run(600, {cold});
    CHECK(b.tells().empty());
    CHECK(b.desk.open()[0].muted_by == "door-opened");
    cold.muted_by = {};
    b.run(610, {cold});
    CHECK(b.tells().size() == 1);
}

TEST_CASE("out of service: evaluated and stored, not told, and it ends") {
    Bench b;
    b.command(OutOfService{pot, true, "maria"});
    b.run(60, one(above, pot, true, 88));
    CHECK(b.tells().empty());
    REQUIRE(b.desk.open().size() == 1);
    CHECK(b.desk.open()[0].state == AlarmState::out_of_service);
    CHECK(b.changes(Transition::raised).empty());  // whoever follows the live stream is not told either
    CHECK(b.changes(Transition::suppressed).size() == 1);
    Bench next = b.restarted();
    CHECK(next.desk.out_of_service(pot));
    next.command(OutOfService{pot, false, "maria"});
    next.run(next.now + 10, one(above, pot, true, 88));
    CHECK(next.tells("raised").size() == 1);
}

TEST_CASE("each channel hears from its own priority upward") {
    Settings s = village_hall();
    s.channels.push_back({.name = "buzzer", .kind = "buzzer", .least = Priority::high});
    Bench b(s);
    b.run(60, one(above, pot, true, 88));
    REQUIRE(b.tells().size() == 1);
    CHECK(b.tells()[0].channel == 0);
    Judged worse = judged(above, pot, true, 97);
    worse.finding.priority = Priority::high;
    b.run(120, {worse});
    REQUIRE(b.tells().size() == 3);
    CHECK(b.tells()[1].reason == "worse");
    CHECK(b.tells()[2].reason == "first");
}

TEST_CASE("every change of an alarm asks for the memory to be kept, after it") {
    Bench b;
    b.run(5, one(above, pot, true, 88));
    bool alarm = false, memory = false;
    for (Effect const& e : b.effects) {
        if (std::holds_alternative<AlarmChanged>(e) || std::holds_alternative<Tell>(e)) {
            alarm = true;
            memory = false;
        }
        if (std::holds_alternative<MemoryChanged>(e)) memory = true;
    }
    CHECK(alarm);
    CHECK(memory);
}
