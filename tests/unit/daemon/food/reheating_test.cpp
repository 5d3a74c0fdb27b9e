// Heated again: 165 degF for 15 s within 2 h from 41 degF on (FDA Food Code 3-403.11(A) and (D), as 16 Del.
// Admin. Code 3-403.11 prints it: 74 degC, 15 seconds, "may not exceed 2 hours").
#include "daemon/food/reheating.hpp"
#include "tests/support/catch.hpp"

using namespace ingle;

namespace {

constexpr double minute = 60;

struct Point {
    double minutes, fahrenheit;
};
// Straight lines through the points, a step a minute; cooled and heated as said.
Reheating warmed(std::vector<Point> const& points, bool heated = true) {
    Reheating again;
    for (std::size_t i = 1; i < points.size(); ++i) {
        auto const &a = points[i - 1], &b = points[i];
        auto const at = [&](double m) {
            return from_fahrenheit(a.fahrenheit +
                                   (b.fahrenheit - a.fahrenheit) * (m - a.minutes) / (b.minutes - a.minutes));
        };
        for (double m = a.minutes; m < b.minutes - 1e-9; ++m)
            again.add({m * minute, at(m), (m + 1) * minute, at(m + 1)}, true, heated);
    }
    return again;
}

}  // namespace

TEST_CASE("reheating: the published figures") {
    CHECK_THAT(to_fahrenheit(reheat_c), WithinAbs(165, 1e-9));
    CHECK(reheat_hold_s == 15);
    CHECK(reheat_most_s == 2 * 60 * minute);
    CHECK_THAT(to_fahrenheit(reheat_from_c), WithinAbs(41, 1e-9));
}

TEST_CASE("reheating counts from 41 degF: two hours to the held 165 are in time, a minute more is not") {
    // 38 degF until minute 10; 41 at minute 13; 165 at minute 13 + ways, held after.
    auto const to_165 = [](double ways) {
        return warmed({{0, 38}, {10, 38}, {13, 41}, {13 + ways, 165}, {30 + ways, 166}});
    };
    auto const quick = to_165(119);
    CHECK(quick.answer(200 * minute, false) == ReheatAnswer::met);
    CHECK(quick.reached());
    CHECK_THAT(quick.took_least_s(0),
               WithinAbs(120 * minute, 1));  // the step that holds 15 s ends a minute later
    CHECK_THAT(quick.began_latest_s(), WithinAbs(13 * minute, 1));
    CHECK_THAT(to_fahrenheit(quick.peak_c()), WithinAbs(166, 1e-6));
    CHECK(to_165(121).answer(200 * minute, false) == ReheatAnswer::missed);
}

TEST_CASE(
    "reheating that is not there yet is open for two hours, then missed; what falls off is not reached") {
    auto const slow = warmed({{0, 38}, {10, 38}, {13, 41}, {100, 150}});
    CHECK(slow.active());
    CHECK_FALSE(slow.reached());
    CHECK(slow.answer(100 * minute, false) == ReheatAnswer::open);
    CHECK(slow.answer((13 + 120) * minute - 5, false) == ReheatAnswer::open);
    CHECK(slow.answer((13 + 120) * minute + 5, false) == ReheatAnswer::missed);
    CHECK(slow.answer(100 * minute, true) == ReheatAnswer::unknown);
    // It ends 5 K below its peak: 150 degF less 9 degF.
    auto const held = warmed({{0, 38}, {10, 38}, {100, 150}, {110, 141.5}});
    CHECK(held.active());
    auto const fallen = warmed({{0, 38}, {10, 38}, {100, 150}, {110, 140}});
    CHECK_FALSE(fallen.active());
    CHECK(fallen.answer(110 * minute, false) == ReheatAnswer::not_reached);
    CHECK_THAT(fallen.took_most_s(500 * minute), WithinAbs(97.5 * minute, 2 * minute));
    // Once reached it ends only below 135 degF.
    auto const kept = warmed({{0, 38}, {10, 38}, {60, 170}, {100, 136}});
    CHECK(kept.active());
    CHECK_FALSE(warmed({{0, 38}, {10, 38}, {60, 170}, {100, 134}}).active());
}

TEST_CASE("165 degF for less than 15 s is no reheating") {
    Reheating again;
    again.add({0, 3, 60, 3}, true, true);
    again.add({60, 3, 120, 8}, true, true);
    CHECK(again.ever());
    double const c = from_fahrenheit(165);
    again.add({120, 8, 1800, c}, true, true);
    again.add({1800, c, 1814, c}, true, true);
    CHECK_FALSE(again.reached());
    CHECK_THAT(again.held_s(), WithinAbs(14, 0.01));
    again.add({1814, c, 1815.1, c}, true, true);
    CHECK(again.reached());
    CHECK(again.answer(1815.1, false) == ReheatAnswer::met);
}

TEST_CASE("not every warming is a reheating") {
    CHECK_FALSE(warmed({{0, 38}, {10, 38}, {100, 150}}, false).ever());  // nothing heats it
    Reheating raw;                                                       // never cooked and cooled
    raw.add({0, 3, 60, 3}, false, true);
    raw.add({60, 3, 120, 40}, false, true);
    CHECK_FALSE(raw.ever());
    CHECK(raw.answer(120, false) == ReheatAnswer::none);
    // Our judgement: a rise of less than 2 K (3.6 degF) is the swing of a pot, and what was never 5 K below
    // 135 degF (126 degF) was a lid that was open.
    CHECK_FALSE(warmed({{0, 100}, {10, 100}, {20, 103.5}}).ever());
    CHECK(warmed({{0, 100}, {10, 100}, {20, 103.7}}).ever());
    CHECK_FALSE(warmed({{0, 127}, {10, 127}, {20, 140}}).ever());
    CHECK(warmed({{0, 125}, {10, 125}, {20, 140}}).ever());
    CHECK_FALSE(warmed({{0, 35}, {10, 35}, {20, 40.9}}).ever());  // still as cold as it is to be kept
}

TEST_CASE("reheated from warm it counts from its coldest, the noise of a probe forgiven") {
    // Coldest 100 degF until minute 30, then half a kelvin up (0.9 degF) and flat: still its coldest.
    auto const noisy = warmed({{0, 110}, {20, 100}, {30, 100}, {31, 100.8}, {60, 100.8}, {70, 120}});
    CHECK_THAT(noisy.began_latest_s(), WithinAbs(60 * minute, minute + 1));
    auto const risen = warmed({{0, 110}, {20, 100}, {30, 100}, {31, 101}, {60, 101}, {70, 120}});
    CHECK_THAT(risen.began_latest_s(), WithinAbs(30 * minute, minute + 1));
}

TEST_CASE("a hole, and an earlier reheating that came to nothing, are not forgotten") {
    auto again = warmed({{0, 38}, {10, 38}, {13, 41}, {60, 120}});
    Step hole{60 * minute, from_fahrenheit(120), 90 * minute, from_fahrenheit(140), true};
    again.add(hole, true, true);
    CHECK(again.answer(90 * minute, false) == ReheatAnswer::unknown);
    auto twice = warmed({{0, 38}, {10, 38}, {60, 120}, {90, 60}, {95, 60}, {120, 170}, {125, 170}});
    CHECK(twice.missed_before());
    CHECK(twice.answer(125 * minute, false) == ReheatAnswer::met);
    CHECK_FALSE(warmed({{0, 38}, {10, 38}, {60, 170}, {90, 60}, {95, 60}, {120, 170}}).missed_before());
    Reheating begun;
    begun.begin_with(0, 0, from_fahrenheit(38));
    CHECK(begun.active());
    CHECK(begun.answer(60, false) == ReheatAnswer::open);
    // Still cold, the two hours have not begun.
    begun.add({0, from_fahrenheit(38), 3 * 60 * minute, from_fahrenheit(40)}, true, true);
    CHECK_THAT(begun.took_most_s(3 * 60 * minute), WithinAbs(0, 1e-9));
    CHECK(begun.answer(3 * 60 * minute, false) == ReheatAnswer::open);
    Reheating unread;
    unread.begin_with(0, 600, from_fahrenheit(100));
    CHECK(unread.answer(700, false) == ReheatAnswer::unknown);
    CHECK(unread.took_most_s(700) == 700);
    CHECK(unread.took_least_s(700) == 100);
}

TEST_CASE("a hole hides a reheating's target only where the core could have come there and back in it") {
    auto const with_hole = [](double seconds) {
        auto again = warmed({{0, 38}, {10, 38}, {13, 41}, {60, 154}});
        double const t = 60 * minute, c = from_fahrenheit(154);
        again.add({t, c, t + seconds, c, true}, true, true);
        for (double m = 0; m < 100; ++m)
            again.add({t + seconds + m * minute, c, t + seconds + (m + 1) * minute, c}, true, true);
        return again.answer(t + seconds + 100 * minute, false);
    };
    // 154 to 165 degF is 6.1 K: at the fastest that a core can move, 20 K/min, 18 s each way.
    CHECK(with_hole(20) == ReheatAnswer::missed);
    CHECK(with_hole(36) == ReheatAnswer::missed);
    CHECK(with_hole(120) == ReheatAnswer::unknown);
}
