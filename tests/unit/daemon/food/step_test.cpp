// The way between two readings, measured or not: every figure is done by hand beside it.
#include "daemon/food/step.hpp"
#include "tests/support/catch.hpp"

using namespace ingle;

namespace {

// An hour from 10 to 20 degC, of which nothing was read; at most 0.01 K/s, so that it can go 36 K.
Step hole() {
    Step step{0, 10, 3600, 20, true};
    step.fastest = 0.01;
    return step;
}

std::vector<FoodSample> every(std::vector<double> const& times) {
    std::vector<FoodSample> series;
    for (double const t : times) series.push_back({t, 20.0});
    return series;
}

}  // namespace

TEST_CASE("a gap reaches as far as its slope allows there and back, and no further than its caps") {
    Step step = hole();
    CHECK_THAT(step.highest_possible(), WithinAbs((10 + 20 + 36) / 2.0, 1e-9));
    CHECK_THAT(step.lowest_possible(), WithinAbs((10 + 20 - 36) / 2.0, 1e-9));
    step.high_cap = 25;
    step.low_cap = 5;
    CHECK(step.highest_possible() == 25);
    CHECK(step.lowest_possible() == 5);
    step.high_cap = 15;  // what was read stays
    step.low_cap = 15;
    CHECK(step.highest_possible() == 20);
    CHECK(step.lowest_possible() == 10);
    step = hole();
    step.from_unknown = true;  // only where it ended is known
    CHECK_THAT(step.highest_possible(), WithinAbs(20 + 36.0, 1e-9));
    CHECK_THAT(step.lowest_possible(), WithinAbs(20 - 36.0, 1e-9));
    step.gap = false;
    CHECK(step.highest_possible() == 20);
    CHECK(step.lowest_possible() == 10);
}

TEST_CASE("a level was passed between the earliest and the latest moment that the slope allows") {
    Step step = hole();
    CHECK_THAT(step.crossing(15), WithinAbs(1800, 1e-9));
    CHECK_THAT(step.earliest(15), WithinAbs(500, 1e-9));
    CHECK_THAT(step.latest(15), WithinAbs(3600 - 500, 1e-9));
    step.from_unknown = true;
    CHECK(step.earliest(15) == 0);
    CHECK_THAT(step.latest(15), WithinAbs(3600 - 500, 1e-9));
    step.gap = false;
    CHECK_THAT(step.earliest(15), WithinAbs(1800, 1e-9));
    CHECK_THAT(step.latest(15), WithinAbs(1800, 1e-9));
    CHECK(Step{7, 20, 9, 20}.crossing(20) == 7);
}

TEST_CASE(
    "seconds between two limits: strictly inside where measured, as many as the slope allows in a gap") {
    Step const line{100, 10, 200, 20};
    CHECK_THAT(seconds_between(line, 12, 15), WithinAbs(30, 1e-9));
    CHECK_THAT(seconds_between(line, 0, 15), WithinAbs(50, 1e-9));
    CHECK(seconds_between(line, 20, 30) == 0);
    CHECK(seconds_between(hole(), 0, 100) == 0);
    CHECK(seconds_between({0, 12, 60, 12}, 12, 15) == 0);
    CHECK(seconds_between({0, 15, 60, 15}, 12, 15) == 0);
    CHECK(seconds_between({0, 12.1, 60, 12.1}, 12, 15) == 60);
    CHECK_THAT(possible_seconds_between(line, 12, 15), WithinAbs(30, 1e-9));
    // From 10 up to 25 takes 1500 s, from there down to 20 takes 500 s.
    CHECK_THAT(possible_seconds_between(hole(), 25, 30), WithinAbs(3600 - 2000, 1e-9));
    CHECK_THAT(possible_seconds_between(hole(), 0, 5), WithinAbs(3600 - 2000, 1e-9));
    CHECK(possible_seconds_between(hole(), 34, 40) == 0);  // 33 degC is the most it can come to
    CHECK(possible_seconds_between(hole(), -40, -3.5) == 0);
    Step unknown = hole();
    unknown.from_unknown = true;
    CHECK_THAT(possible_seconds_between(unknown, 25, 30), WithinAbs(3600 - 500, 1e-9));
    CHECK_THAT(possible_seconds_between(unknown, 15, 30), WithinAbs(3600, 1e-9));
}

TEST_CASE("seconds at or above a level count the level itself, also after a change of units") {
    Step const line{0, 10, 100, 20};
    CHECK_THAT(seconds_at_or_above(line, 15), WithinAbs(50, 1e-3));
    CHECK(seconds_at_or_above(line, 10) == 100);
    CHECK(seconds_at_or_above(line, 21) == 0);
    CHECK(seconds_at_or_above({0, 15, 60, 15}, 15) == 60);
    CHECK(seconds_at_or_above({0, 15 - 1e-9, 60, 15 - 1e-9}, 15) == 60);
    CHECK(seconds_at_or_above({0, 14.99, 60, 14.99}, 15) == 0);
    CHECK(seconds_at_or_above(hole(), 5) == 0);
}

TEST_CASE("three times the rhythm of a recording, and at least a minute, is no gap") {
    CHECK(longest_step_s({}) == 60);
    CHECK(longest_step_s(every({0})) == 60);
    CHECK(longest_step_s(every({0, 1, 2, 3})) == 60);
    CHECK(longest_step_s(every({0, 60, 120, 180})) == 180);
    CHECK(longest_step_s(every({0, 30, 60, 90, 1000})) == 90);  // a hole is not the rhythm
    auto const steps = steps_of(every({0, 60, 120, 300, 480.1, 540, 600}));
    REQUIRE(steps.size() == 6);
    CHECK_FALSE(steps[2].gap);  // 180 s
    CHECK(steps[3].gap);        // 180.1 s
    auto holed = every({0, 60, 120, 180});
    holed[2].celsius.reset();
    holed[3].after_gap = true;
    auto const over = steps_of(holed);
    REQUIRE(over.size() == 2);
    CHECK(over[1].t0 == 60);
    CHECK(over[1].gap);
}

TEST_CASE("degrees Fahrenheit and Celsius, and no core faster than a thin piece in a hot oven") {
    CHECK(from_fahrenheit(32) == 0);
    CHECK_THAT(from_fahrenheit(212), WithinAbs(100, 1e-12));
    CHECK_THAT(to_fahrenheit(100), WithinAbs(212, 1e-12));
    CHECK_THAT(to_fahrenheit(0), WithinAbs(32, 1e-12));
    // 140 g of beef in a 175 degC oven: 14 to 57 degC in 630 s (tests/reference/forecast), taken five times.
    CHECK_THAT(fastest_core_k_per_s, WithinRel(5 * (57 - 14) / 630.0, 0.03));
}
