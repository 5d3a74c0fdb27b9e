// What becomes of a suppressed alarm when that which suppresses it ends.
#include "tests/support/catch.hpp"
#include "tests/unit/daemon/alarms/desk_bench.hpp"

using namespace ingle;
using namespace ingle::test;

TEST_CASE("what went back while it was suppressed is no news when the suppression ends") {
    Bench b;
    Judged cold = judged(below, pot, true, 78);
    cold.finding.off_delay = std::chrono::minutes(5);
    cold.muted_by = "door-opened";
    b.run(60, {cold});
    REQUIRE(b.desk.open().size() == 1);
    cold.finding.truth = Truth::absent;
    b.run(90, {cold});  // back, and its off-delay is not over
    SECTION("the door is shut: it ends without a word") {
        cold.muted_by = {};
        b.run(600, {cold});
        CHECK(b.changes(Transition::unsuppressed).empty());
        CHECK(b.changes(Transition::cleared).size() == 1);
    }
    SECTION("shut while it is still true: now it is told") {
        cold.muted_by = {};
        cold.finding.truth = Truth::present;
        b.run(600, {cold});
        CHECK(b.changes(Transition::unsuppressed).size() == 1);
        CHECK(b.tells("raised").size() == 1);
    }
    CHECK(b.desk.open().size() <= 1);
}

TEST_CASE("a consequence goes on waiting while its next cause is about to be raised") {
    int const judged_by[] = {0};
    Bench b;
    auto const second = [&](bool silence, bool broken) {
        Judged cold = judged(below, pot, true, 78);
        cold.probes = judged_by;
        return std::vector{judged(silent, probe(0), silence), judged(open_probe, probe(0), broken), cold};
    };
    b.run(60, second(true, false));
    REQUIRE(b.changes(Transition::raised).size() == 1);
    SECTION("it comes") {
        b.run(200, second(false, true));  // raised after its 20 s
        CHECK(b.changes(Transition::raised).size() == 2);
        CHECK(b.changes(Transition::unsuppressed).empty());
    }
    SECTION("it does not") {
        b.run(70, second(false, true));
        CHECK(b.changes(Transition::unsuppressed).empty());
        b.run(80, second(false, false));
        REQUIRE(b.changes(Transition::unsuppressed).size() == 1);
        CHECK(b.changes(Transition::unsuppressed)[0].alarm.type->name == "below-band");
    }
}
