// What an alarm desk remembers over a restart (case E9 from the field, with its input).
#include "daemon/alarms/alarm_desk.hpp"
#include "tests/support/catch.hpp"
#include "tests/unit/daemon/alarms/desk_bench.hpp"

using namespace ingle;
using namespace ingle::test;

TEST_CASE("E9: after a restart nothing is told twice and no recovery is forgotten") {
    Bench b;
    b.run(60, {judged(above, pot, true, 88), judged(below, smoker, true, 90)});
    REQUIRE(b.tells().size() == 1);
    Bench next = b.restarted();
    // (a) the pot still is, (b) the smoker became normal while down, (c) the fridge broke a limit while down
    next.run(next.now + 700,  // a recovery is believed 10 min after a restart, not at once
             {judged(above, pot, true, 88), judged(below, smoker, false), judged(above, fridge, true, 9)});
    auto const tells = next.tells();
    REQUIRE(tells.size() == 2);
    CHECK(tells[0].kind == "raised");
    REQUIRE(tells[0].alarms.size() == 1);
    CHECK(tells[0].alarms[0].subject == fridge);
    CHECK(tells[0].alarms[0].id == 3);  // numbers go on
    CHECK(tells[1].kind == "cleared");
    REQUIRE(tells[1].alarms.size() == 1);
    CHECK(tells[1].alarms[0].subject == smoker);
}

TEST_CASE("a daemon that dies every two seconds still tells what it saw, once") {
    Bench b;
    b.run(2, one(above, pot, true, 88));
    CHECK(b.tells().empty());  // still being gathered
    Bench second = b.restarted();
    second.run(second.now + 2, one(above, pot, true, 88));
    REQUIRE(second.tells("raised").size() == 1);
    CHECK(second.tells("raised")[0].alarms[0].id == 1);
    Bench third = second.restarted();
    third.run(third.now + 60, one(above, pot, true, 88));
    CHECK(third.tells().empty());
}

TEST_CASE("E9: no data after a restart is no recovery") {
    Bench b;
    b.run(60, one(above, pot, true, 88));
    Bench next = b.restarted();
    next.run(next.now + 3600, {});  // the probe has not spoken yet
    CHECK(next.desk.active("above-band", pot));
    next.run(next.now + 3600, {unknown(above, pot)});
    CHECK(next.desk.active("above-band", pot));
    CHECK(next.tells("cleared").empty());
}

TEST_CASE("a restart is no all-clear: what a watch does not find in its first minutes is not over") {
    Bench b;
    b.run(60, one(above, pot, true, 88));
    Bench next = b.restarted();
    next.run(next.now + 300, one(above, pot, false));  // it has forgotten what it judged by
    CHECK(next.desk.active("above-band", pot));
    next.run(next.now + 60, one(above, pot, true, 88));  // and knows again
    CHECK(next.tells().empty());
    CHECK(next.changes(Transition::cleared).empty());
    SECTION("found since, its recovery is believed as ever") {
        next.run(next.now + 60, one(above, pot, false));
        CHECK(next.tells("cleared").size() == 1);
    }
    SECTION("not found for 10 min, it is over") {
        Bench third = b.restarted();
        third.run(third.now + 590, one(above, pot, false));
        CHECK(third.tells().empty());
        third.run(third.now + 60, one(above, pot, false));
        CHECK(third.tells("cleared").size() == 1);
    }
}

TEST_CASE("what the kitchen was told is over needs no ten minutes after a restart") {
    Bench b;
    b.run(60, one(undelivered, {}, true));
    SECTION("its end was told before the restart, and waited for its off-delay") {
        b.run(70, one(undelivered, {}, false));
        Bench next = b.restarted();
        next.run(next.now + 15, one(undelivered, {}, false));
        CHECK(next.desk.active("not-delivered", {}));
        next.run(next.now + 10, one(undelivered, {}, false));
        CHECK_FALSE(next.desk.active("not-delivered", {}));
    }
    SECTION("its end is told after it") {
        Bench next = b.restarted();
        next.run(next.now + 60, one(undelivered, {}, false));
        CHECK(next.desk.active("not-delivered", {}));
        next.desk.is_known_to_be_over("not-delivered", {});
        next.run(next.now + 2, one(undelivered, {}, false));
        CHECK_FALSE(next.desk.active("not-delivered", {}));
    }
    SECTION("nobody has told its end: it may be told again") {
        Bench next = b.restarted();
        next.run(next.now + 590, one(undelivered, {}, false));
        CHECK(next.desk.active("not-delivered", {}));
    }
}

TEST_CASE("the memory names subjects and channels: a changed kitchen file does not mix them up") {
    Bench b;
    b.run(60, {judged(above, pot, true, 88), judged(below, smoker, true, 90)});
    Settings changed = village_hall();
    changed.vessels = {changed.vessels[2], changed.vessels[0]};  // the smoker went, the pot moved
    Bench next(changed);
    Memory memory;
    b.desk.remember(memory);
    next.desk.recall(at(500), memory, next.effects);
    REQUIRE(next.desk.open().size() == 1);
    CHECK(next.desk.open()[0].subject == vessel(1));
    REQUIRE(next.effects.size() == 1);
    CHECK(std::get<Event>(next.effects[0]).name == "alarm-dropped");
    CHECK(std::get<Event>(next.effects[0]).at == at(500));
}

TEST_CASE(
    "an alarm and a silence of what is not in the kitchen file for one start are there when it is again") {
    Bench b;
    b.run(60, {judged(above, pot, true, 88), judged(below, smoker, true, 90)});
    b.command(Shelve{1, std::chrono::hours(2), "hall"});
    b.command(OutOfService{fridge, true, "hall"});
    b.run(62, {judged(above, pot, true, 88), judged(below, smoker, true, 90)});
    auto const before = b.desk.open();
    REQUIRE(before.size() == 2);
    Settings without = village_hall();
    for (auto& one : without.vessels) one.name += "-2";
    Memory first, second;
    b.desk.remember(first);
    first.shift_instants(from_seconds(-40));  // another boot
    Bench next(without);
    next.desk.recall(at(100), first, next.effects);
    CHECK(next.desk.open().empty());
    CHECK(next.effects.size() == 2);
    CHECK_FALSE(next.desk.out_of_service(fridge));
    SECTION("it is told once that they are gone") {
        next.desk.remember(second);
        Bench again(without);
        again.desk.recall(at(130), second, again.effects);
        CHECK(again.effects.empty());
        second = {};
        again.desk.remember(second);
    }
    SECTION("after one start") {
        next.desk.remember(second);
    }
    Bench back;
    back.desk.recall(at(160), second, back.effects);
    back.now = 160;
    back.run(200, {judged(above, pot, true, 88), judged(below, smoker, true, 90)});
    auto const after = back.desk.open();
    REQUIRE(after.size() == 2);
    for (std::size_t i = 0; i < after.size(); ++i) {
        CHECK(after[i].id == before[i].id);
        CHECK(after[i].subject == before[i].subject);
        CHECK(after[i].state == before[i].state);
        CHECK(after[i].since == before[i].since - std::chrono::seconds(40));
    }
    CHECK(back.tells().empty());
    CHECK(back.desk.out_of_service(fridge));
    Memory last;
    back.desk.remember(last);
    CHECK(last.first_with("alarm.at.1.gone")->first != "alarm.at.1.gone");
}
