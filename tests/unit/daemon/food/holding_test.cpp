// Hot and cold holding: the limit is inclusive, a spell begins where it was crossed, what was not read counts
// as possible. Times in seconds since the begin, degC; the figures are done by hand.
#include "daemon/food/holding.hpp"
#include "tests/support/catch.hpp"

using namespace ingle;

namespace {

constexpr double hour = 3600;

Step unread(double t0, double c0, double t1, double c1, double fastest = 0.01) {
    Step step{t0, c0, t1, c1, true};
    step.fastest = fastest;
    return step;
}

}  // namespace

TEST_CASE("hot holding: below the limit is wrong, at the limit is right") {
    Holding hot(Holding::Side::hot, 60);
    hot.add({0, 50, 60, 50});  // before it began
    CHECK(hot.beyond_s() == 0);
    CHECK_FALSE(hot.ever());
    hot.begin(100, 60.0);
    CHECK(hot.held());
    CHECK(hot.ever());
    CHECK(hot.reached());
    CHECK(hot.began_s() == 100);
    hot.add({100, 60, 200, 60});
    CHECK(hot.beyond_s() == 0);
    CHECK_FALSE(hot.worst_c());
    CHECK(hot.spell_s(200) == 0);
    hot.add({200, 62, 300, 58});  // crosses at 250 s
    CHECK_THAT(hot.beyond_s(), WithinAbs(50, 1e-3));
    CHECK_THAT(hot.spell_s(310), WithinAbs(60, 1e-3));
    CHECK_THAT(hot.spell_possible_s(310), WithinAbs(60, 1e-3));
    CHECK(hot.hole_s() == 0);
    hot.add({300, 58, 400, 57});
    hot.add({400, 57, 500, 59});
    CHECK(hot.worst_c() == 57);
    CHECK_THAT(hot.beyond_s(), WithinAbs(250, 1e-3));
    CHECK_THAT(hot.spell_s(500), WithinAbs(250, 1e-3));
    hot.add({500, 59, 600, 61});
    CHECK(hot.spell_s(600) == 0);
    CHECK_THAT(hot.beyond_s(), WithinAbs(300, 1e-3));
    hot.stop();
    CHECK_FALSE(hot.held());
    hot.add({600, 40, 700, 40});
    CHECK_THAT(hot.beyond_s(), WithinAbs(300, 1e-3));
}

TEST_CASE("cold holding: above the limit is wrong, and the warmest is the worst") {
    Holding cold(Holding::Side::cold, 4);
    cold.begin(0, 6.0);
    CHECK_FALSE(cold.reached());
    CHECK(cold.spell_s(30) == 30);
    cold.add({0, 6, 60, 5});
    cold.add({60, 5, 120, 7});
    cold.add({120, 7, 180, 6});
    CHECK(cold.worst_c() == 7);
    CHECK(cold.spell_s(180) == 180);
    CHECK(cold.beyond_s() == 180);
    cold.add({180, 6, 240, 4});
    CHECK(cold.reached());
    CHECK(cold.spell_s(240) == 0);
    cold.begin(300, 4.0);  // once more: what was counted stays
    CHECK(cold.reached());
    CHECK(cold.spell_s(400) == 0);
    CHECK_THAT(cold.beyond_s(), WithinAbs(240, 1e-3));
}

TEST_CASE("a hole before a reading beyond the limit is told with what it may have been") {
    Holding cold(Holding::Side::cold, 4);
    cold.begin(0, 3.0);
    cold.add({0, 3, 60, 3});
    cold.add(unread(60, 3, 60 + 3 * hour, 9, 1));
    CHECK(cold.beyond_s() == 0);
    // At 1 K/s it needs one second to the limit.
    CHECK_THAT(cold.beyond_possible_s(), WithinAbs(3 * hour - 1, 0.01));
    CHECK(cold.spell_s(60 + 3 * hour) == 0);
    CHECK_THAT(cold.spell_possible_s(60 + 3 * hour + 10), WithinAbs(3 * hour + 9, 0.01));
    CHECK(cold.hole_s() == 3 * hour);
    cold.add(unread(60 + 3 * hour, 9, 60 + 4 * hour, 9, 1));
    CHECK(cold.hole_s() == 3 * hour);  // the longest
    cold.add({60 + 4 * hour, 9, 120 + 4 * hour, 3});
    CHECK(cold.hole_s() == 0);
    CHECK(cold.worst_c() == 9);
}

TEST_CASE("a hole of unknown length is not bounded by how long it is held as far as is known") {
    Holding cold(Holding::Side::cold, 4);
    cold.begin(0, 3.0);
    cold.add({0, 3, 60, 3});
    cold.add(unread(120 - 3650 * 24 * hour, 3, 120, 3, 1));
    CHECK(cold.beyond_s() == 0);
    CHECK(cold.beyond_possible_s() >= unbounded_s);
}

TEST_CASE("the way down to the limit is no holding yet") {
    Holding cold(Holding::Side::cold, 4);
    cold.begin(0, 60.0, true);
    CHECK_FALSE(cold.ever());
    cold.add({0, 60, hour, 20});
    CHECK(cold.beyond_s() == 0);
    CHECK_FALSE(cold.ever());
    cold.add({hour, 20, 2 * hour, 4});
    CHECK(cold.ever());
    CHECK(cold.reached());
    cold.add({2 * hour, 6, 2 * hour + 60, 6});
    CHECK(cold.beyond_s() == 60);
}

TEST_CASE("begun and not read: the time before the first reading is possible, and the spell begins with it") {
    Holding cold(Holding::Side::cold, 4);
    cold.begin(0, std::nullopt);
    CHECK(cold.spell_s(5) == 0);
    Step before = unread(0, 8, hour, 8, 1);
    before.from_unknown = true;
    cold.add(before);
    CHECK(cold.beyond_s() == 0);
    CHECK_THAT(cold.beyond_possible_s(), WithinAbs(hour, 1e-6));
    CHECK_THAT(cold.last_day().possible_s(hour), WithinAbs(hour, 1e-6));
    CHECK(cold.last_day().measured_s(hour) == 0);
    Holding late(Holding::Side::cold, 4);  // a step that began earlier counts from the begin only
    late.begin(hour / 2, std::nullopt);
    late.add({0, 8, hour, 8});
    CHECK(late.beyond_s() == hour / 2);
}

TEST_CASE("what comes down to the limit and dances on it is not beyond it; what goes up again is") {
    for (bool const goes_on : {true, false}) {
        INFO(goes_on);
        Holding cold(Holding::Side::cold, 4.44);
        cold.begin(0, 70.0, true);
        double t = 5 * hour;
        cold.add({0, 70, t, 4.6});
        for (int i = 0; i < 10; ++i, t += 120) {
            cold.add({t, 4.6, t + 60, 4.4});
            cold.add({t + 60, 4.4, t + 120, 4.6});
        }
        CHECK(cold.beyond_s() == 0);
        CHECK(cold.spell_s(t) == 0);
        if (goes_on) cold.add({t, 4.6, t + hour, 4.0});
        if (!goes_on) cold.add({t, 4.6, t + hour, 4.9});
        CHECK(cold.reached());
        double const from = goes_on ? 4.0 : 4.9;
        cold.add({t + hour, from, t + 2 * hour, 6});
        cold.add({t + 2 * hour, 6, t + 3 * hour, 6});
        CHECK(cold.beyond_s() > 1.5 * hour);
        CHECK(cold.spell_s(t + 3 * hour) > 1.5 * hour);
    }
}

TEST_CASE("the last 24 hours: what is older falls out, an hour late at most") {
    LastDay day;
    day.add({0, 8, hour, 8}, hour, hour);
    CHECK(day.measured_s(hour) == hour);
    CHECK(day.measured_s(24.9 * hour) == hour);
    CHECK(day.measured_s(25 * hour) == 0);
    // Spread over the hours that it lay in: half an hour of three in each.
    LastDay spread;
    spread.add({0.5 * hour, 8, 3.5 * hour, 8}, 1.5 * hour, 3 * hour);
    CHECK_THAT(spread.measured_s(3.5 * hour), WithinAbs(1.5 * hour, 1e-6));
    CHECK_THAT(spread.possible_s(3.5 * hour), WithinAbs(3 * hour, 1e-6));
    CHECK_THAT(spread.possible_s(25 * hour), WithinAbs(2.5 * hour, 1e-6));
    CHECK_THAT(spread.possible_s(26 * hour), WithinAbs(1.5 * hour, 1e-6));
    CHECK_THAT(spread.measured_s(27 * hour), WithinAbs(0.25 * hour, 1e-6));
    CHECK(spread.possible_s(28 * hour) == 0);
    // Days later the same place holds another hour.
    spread.add({100 * hour, 8, 101 * hour, 8}, 600, 600);
    CHECK(spread.measured_s(101 * hour) == 600);
    spread.add({101 * hour, 8, 101 * hour, 8}, 600, 600);  // no time
    CHECK(spread.measured_s(101 * hour) == 600);
    spread.add({101 * hour, 3, 102 * hour, 3}, 0, 0);
    CHECK(spread.measured_s(102 * hour) == 600);
    // Of a step of three days only the last 25 hours are of use.
    LastDay days;
    days.add({0, 8, 72 * hour, 8}, 72 * hour, 72 * hour);
    CHECK_THAT(days.measured_s(72 * hour), WithinAbs(24 * hour, 1e-6));
}
