// What the watches of a probe judge by survives a restart: nothing is over that is not, and nothing is told
// of the time in which the program was off.
#include <cmath>

#include "tests/support/catch.hpp"
#include "tests/support/kitchen_run.hpp"

using namespace ingle;
using namespace ingle::test;

namespace {

bool active(Run& run, std::string_view alarm) {
    for (auto const& one : run.kitchen().view().alarms)
        if (one.active && one.type->name == alarm) return true;
    return false;
}
Source from_minute(double minute, Source first, Source then) {
    return [=](double s, Instant at) { return s < minute * 60 ? first(s, at) : then(s, at); };
}
Source const at_85 = probe_of(Series{{0, 85}, {600, 85}}, 3);
std::optional<Reading> nothing(double, Instant) {
    return std::nullopt;
}
std::optional<Reading> open_wire(double, Instant at) {
    return Reading::faulty(at, FaultKind::open, "open circuit");
}

}  // namespace

TEST_CASE("probe-silent is not over because the program was off, and is not told because of that time") {
    Run run(one_vessel(VesselKind::pot, {{80, 90}}));
    run.probe("p", from_minute(10, at_85, nothing));
    run.until(12);
    REQUIRE(active(run, "probe-silent"));
    run.restart(std::chrono::minutes(5));
    auto const text = [&] {
        for (auto const& one : run.kitchen().view().alarms)
            if (one.type->name == "probe-silent") return one.text;
        return std::string();
    };
    run.until(17.1);
    CHECK_THAT(text(),
               INGLE_CONTAINS("no reading from p for 7 min"));  // since the last one, the time off too
    run.until(18);
    CHECK(active(run, "probe-silent"));
    CHECK(run.alarms("probe-silent").size() == 1);
    CHECK_THAT(text(), INGLE_CONTAINS("no reading from p for 8 min"));

    Run never(one_vessel(VesselKind::pot, {{80, 90}}));
    never.until(20);
    never.restart();
    never.until(21);
    REQUIRE(never.kitchen().view().alarms.size() == 1);
    CHECK_THAT(never.kitchen().view().alarms[0].text, INGLE_CONTAINS("no reading from p for 21 min"));

    Run healthy(one_vessel(VesselKind::pot, {{80, 90}}));
    healthy.probe("p", at_85);
    healthy.until(10);
    healthy.restart(std::chrono::hours(2));
    healthy.until(135);
    CHECK(healthy.alarms("probe-silent").empty());
}

TEST_CASE("a broken wire is the same alarm after a restart") {
    Run run(one_vessel(VesselKind::pot, {{80, 90}}));
    run.probe("p", from_minute(10, at_85, open_wire));
    run.until(12);
    REQUIRE(active(run, "probe-open"));
    run.restart(std::chrono::seconds(20));
    run.until(15);
    CHECK(active(run, "probe-open"));
    CHECK(run.alarms("probe-open").size() == 1);
    CHECK_FALSE(run.alarms("probe-open")[0].cleared);
}

TEST_CASE("a probe that loses every third reading stays unreliable over a restart") {
    Run run(one_vessel(VesselKind::pot, {{80, 90}}));
    run.probe("p", [](double s, Instant at) {
        return static_cast<int>(s) % 3 == 0 ? open_wire(s, at) : at_85(s, at);
    });
    run.until(15);
    REQUIRE(active(run, "probe-unreliable"));
    run.restart(std::chrono::seconds(3));
    run.until(25);
    CHECK(run.alarms("probe-unreliable").size() == 1);
    CHECK(active(run, "probe-unreliable"));
}

TEST_CASE("an excursion goes on, and ends as soon as without a restart") {
    auto const climb =
        Series{{0, 65}, {20, 65}, {24, 75}, {40, 75}, {44, 65}, {80, 65}};  // far from the boil
    double cleared[2]{};
    for (int const restarts : {0, 1}) {
        Run run(one_vessel(VesselKind::pot, {{60, 70}}));
        run.probe("p", probe_of(climb, 6));
        run.until(35);
        if (restarts) run.restart();
        run.until(41.5);
        if (restarts) run.restart();
        run.until(80);
        REQUIRE(run.alarms("above-band").size() == 1);
        REQUIRE(run.alarms("above-band")[0].cleared);
        cleared[restarts] = *run.alarms("above-band")[0].cleared;
    }
    CHECK(std::abs(cleared[1] - cleared[0]) < 0.1);
}

TEST_CASE("a pot that stands still is not about to leave its band because the program was started anew") {
    Run run(one_vessel(VesselKind::pot, {{80, 90}}));
    run.probe("p", probe_of([](double m) { return std::optional(85 + 0.3 * std::sin(m)); }, 8, 0.15));
    for (int minute = 20; minute < 120; minute += 7) {
        run.until(minute);
        run.restart(std::chrono::seconds(2));
    }
    CHECK(run.alarms("leaving-band").empty());
    CHECK(run.raised().empty());
}

TEST_CASE("how it moves is not said right after a long gap, in which nothing was seen of it") {
    auto const text = [](Run& run, std::string_view alarm) {
        for (auto const& one : run.kitchen().view().alarms)
            if (one.active && one.type->name == alarm) return one.text;
        return std::string();
    };
    auto const says_nothing = [](std::string const& told) {
        CHECK_FALSE(told.empty());
        for (char const* word : {"steady", "falling", "rising", "come back", "get there"})
            CHECK_THAT(told, !INGLE_CONTAINS(word));
    };
    Run smoker(one_vessel(VesselKind::smoker, {{93, 107}}));
    smoker.probe("p", probe_of(Series{{0, 100}, {60, 100}, {80, 68}, {200, 40}}));
    smoker.until(75);
    REQUIRE(active(smoker, "heat-lost"));
    CHECK_THAT(text(smoker, "heat-lost"), INGLE_CONTAINS("falling"));
    smoker.restart(std::chrono::minutes(20));
    smoker.until(95.2);
    says_nothing(text(smoker, "heat-lost"));
    smoker.until(99);
    CHECK_THAT(text(smoker, "heat-lost"), INGLE_CONTAINS("falling"));

    Run oven(one_vessel(VesselKind::oven, {{180, 200}}));
    oven.probe("p", probe_of(Series{{0, 20}, {30, 150}, {300, 150}}));
    oven.until(60);
    REQUIRE(active(oven, "slow-to-reach"));
    CHECK_THAT(text(oven, "slow-to-reach"), INGLE_CONTAINS("steady"));
    oven.restart(std::chrono::minutes(20));
    oven.until(80.2);
    says_nothing(text(oven, "slow-to-reach"));
}
