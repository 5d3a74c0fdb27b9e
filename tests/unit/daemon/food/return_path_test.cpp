// How a tip that was moved comes back: put in, it is there at once; the air around it comes there gradually.
#include "daemon/food/return_path.hpp"

#include <cmath>

#include "daemon/food/classes.hpp"
#include "daemon/food/core_evidence.hpp"
#include "tests/support/catch.hpp"

using namespace ingle;

namespace {

constexpr double pi = 3.141592653589793;
constexpr double rhythms[] = {1, 5, 10, 30, 60, 300};

// Undone at 34 degC it is taken out; the tip lies on the counter (23 degC), then in a smoker that warms up to
// 88 degC with a time constant of so many minutes. No core was ever above 34 degC.
double left_lying(double t, double minutes) {
    double const out = 5400, again = 6300;
    if (t < out) return 4 + 48 * t / out;
    if (t < again) return 23 + 29 * std::exp(-(t - out) / 12);
    return 88 - 65 * std::exp(-(t - again) / (60 * minutes));
}

// A small, certain unevenness in place of noise: a third of a kelvin up, down and between.
double uneven(double t) {
    return 0.33 * std::sin(1.7 * t) * std::cos(0.31 * t);
}

double highest_that_counts(double minutes, double every) {
    CoreEvidence evidence({});
    double highest = -1000;
    for (double t = 0; t < 5 * 3600; t += every) {
        evidence.take(t, left_lying(t, minutes) + uneven(t), false, FoodPhase::cooking, std::nullopt);
        for (auto const& one : evidence.take_judged()) {
            if (one.voids) highest = -1000;  // nothing that was read so far
            if (one.doubt == CoreDoubt::none) highest = std::max(highest, one.celsius);
        }
    }
    return highest;
}

// The middle of a ball of 9 cm (R^2/a = 15,000 s) at 6 degC in liquid of 85 degC: the series of a sphere
// whose surface has the liquid's temperature.
double poached(double t) {
    double left = 0;
    for (int n = 1; n <= 60; ++n)
        left += (n % 2 == 1 ? 2 : -2) * std::exp(-(n * pi) * (n * pi) * std::max(t, 60.0) / 15000);
    return 85 - 79 * std::min(1.0, left);
}

// From `out` to `back` the tip is elsewhere; it follows within `lag` s there, and at once in the food.
double tip_away(double t, double out, double back, double there, double lag) {
    if (t < out) return poached(t);
    double const away = there + (poached(out) - there) * std::exp(-(std::min(t, back) - out) / lag);
    return t < back ? away : poached(t) + (away - poached(back)) * std::exp(-(t - back) / 6);
}

struct Cooked {
    bool counts = false, voided = false;  // at the end; anything that was read in the food
    double furthest_k = 0;                // that a reading was above the middle once it was put in
};

Cooked poach(double every, double out, double back, double there, double lag) {
    CoreEvidence evidence(Length{0.09}, food_class("ground-poultry"), 99.2, Shape::sphere);
    Cooked cooked;
    for (double t = 0; t < 5400; t += every) {
        evidence.take(t, tip_away(t, out, back, there, lag) + uneven(t) / 4, false, FoodPhase::cooking, 85.0);
        for (auto const& one : evidence.take_judged()) {
            cooked.voided = cooked.voided || (one.voids && one.t > back);
            if (one.doubt == CoreDoubt::none && one.t > back)
                cooked.furthest_k = std::max(cooked.furthest_k, one.celsius - poached(one.t));
        }
    }
    cooked.counts = evidence.doubt() == CoreDoubt::none && evidence.shown();
    return cooked;
}

// The tip was at 20 degC; from 100 s on at `level`, with these readings between.
ReturnPath from_the_counter(std::initializer_list<ReturnPath::Reading> between) {
    ReturnPath path;
    path.take(-10, 60);
    for (double t = 0; t <= 90; t += 10) path.take(t, 20);
    for (auto const& one : between) path.take(one.t, one.c);
    return path;
}

}  // namespace

TEST_CASE("a tip left lying in air that is warmed slowly is not back in the food, at any rhythm") {
    for (double const every : rhythms)
        for (double const minutes : {5.0, 10.0, 20.0, 40.0}) {
            INFO("every " << every << " s, time constant " << minutes << " min");
            CHECK(highest_that_counts(minutes, every) < 53);
        }
}

TEST_CASE("a tip that is put in is there within a minute; what takes longer is air") {
    CHECK(from_the_counter({}).at_once({100, 60}, {110, 60}));
    CHECK(from_the_counter({{100, 40}, {130, 55}}).at_once({160, 60}, {170, 60}));
    CHECK(from_the_counter({{100, 40}, {130, 49}}).at_once({190, 60}, {200, 60}));
    CHECK_FALSE(from_the_counter({{100, 40}, {130, 49}}).at_once({191, 60}, {200, 60}));
    // The minute begins where it is first less than 12 K away.
    CHECK(from_the_counter({{100, 40}, {200, 49}}).at_once({260, 60}, {270, 60}));
    CHECK_FALSE(from_the_counter({{100, 40}, {200, 49}}).at_once({261, 60}, {270, 60}));
    CHECK(from_the_counter({{100, 40}, {200, 48}, {210, 50}}).at_once({270, 60}, {280, 60}));
}

TEST_CASE("a tip that was never far away need not come back at once") {
    CHECK(from_the_counter({{100, 24}, {1000, 28}}).at_once({2000, 31.9}, {2010, 32}));
    CHECK_FALSE(from_the_counter({{100, 24}, {1000, 28}}).at_once({2000, 32}, {2010, 32}));
    CHECK(ReturnPath().at_once({0, 60}, {10, 60}));
}

TEST_CASE("at one reading in minutes, air that is still coming is known by its next step") {
    // 40 K in one interval: a tip that was put in then moves with the core only.
    CHECK(from_the_counter({}).at_once({300, 60}, {600, 70}));
    CHECK_FALSE(from_the_counter({}).at_once({300, 60}, {600, 70.1}));
    CHECK(from_the_counter({}).at_once({300, 60}, {600, 40}));  // it goes back: not the way that it came
    CHECK(from_the_counter({}).at_once({300, 60}, {419, 75}));  // read more often, the way itself shows it
    CHECK_FALSE(from_the_counter({}).at_once({300, 60}, {420, 75}));
    ReturnPath from_the_fire;
    from_the_fire.take(-60, 60);
    from_the_fire.take(0, 110);
    CHECK(from_the_fire.at_once({300, 60}, {600, 47.5}));
    CHECK_FALSE(from_the_fire.at_once({300, 60}, {600, 47.4}));
}

TEST_CASE("what was read long ago is kept by its levels: memory is bounded, and the last far level counts") {
    ReturnPath path;
    path.take(-30, 60);
    for (int i = 0; i < 5000; ++i) path.take(i, i % 2 ? 20 : 22);  // to and fro on the counter
    for (int i = 0; i < 100; ++i) path.take(5000 + 10 * i, 40);    // then in warm air
    path.take(6000, 43);
    CHECK_FALSE(path.at_once({6100, 53}, {6110, 53}));
    CHECK(path.at_once({6060, 53}, {6070, 53}));
    path.clear();
    CHECK(path.at_once({6100, 50}, {6110, 50}));
}

TEST_CASE(
    "a tip that is put back is recognised though its readings are uneven and the core went on meanwhile") {
    for (double const every : rhythms)
        for (double const uneven_k : {0.0, 1.0}) {
            INFO("every " << every << " s, uneven by " << uneven_k);
            auto const core = [](double t) { return 20 + 30 * t / 5400; };  // 0.33 K a minute
            CoreEvidence evidence({});
            double last = 0;
            for (double t = 0; t < 3 * 3600; t += every) {
                double const away = t < 5400   ? core(t)
                                    : t < 6600 ? 20 + 30 * std::exp(-(t - 5400) / 12)
                                               : core(t) - (core(6600) - 20) * std::exp(-(t - 6600) / 20);
                evidence.take(t, away + uneven_k * uneven(t), false, FoodPhase::cooking, std::nullopt);
                for (auto const& one : evidence.take_judged())
                    if (one.doubt == CoreDoubt::none) last = one.t;
            }
            CHECK(last > 3 * 3600 - 2 * every - 60);
        }
}

TEST_CASE("what did not leave more quickly than a core may come back as it likes: it may be one") {
    auto const left = [](double off, double within) {
        ReturnPath path;
        path.take(0, 60);
        path.take(within, 60 - off);
        for (double t = within + 60; t <= 3600; t += 60) path.take(t, 30 + t / 150);  // 24 K in an hour
        return !path.at_once({3660, 54.4}, {3720, 54.8});
    };
    CHECK(left(6 + 0.25 * 10, 10));
    CHECK_FALSE(left(6 + 0.25 * 10 - 0.1, 10));
    CHECK(left(6 + 0.25 * 60, 60));
    CHECK(left(30, 61));  // read more seldom, the first reading has to do
    CHECK_FALSE(left(20.9, 61));
}

TEST_CASE("a tip that lay in the room for two minutes before it was put in shows the middle to the end") {
    for (double const every : {1.0, 5.0, 10.0, 30.0}) {
        INFO("every " << every << " s");
        auto const cooked = poach(every, 0, 120, 21, 35);
        CHECK(cooked.counts);
        CHECK_FALSE(cooked.voided);
        CHECK(cooked.furthest_k < 1);
    }
}

TEST_CASE("a tip that lay in the room for five minutes is back at once") {
    for (double const every : {5.0, 10.0})
        for (double const out : {1800.0, 2100.0, 2400.0}) {
            INFO("every " << every << " s, from " << out << " s on");
            auto const cooked = poach(every, out, out + 300, 21, 35);
            CHECK(cooked.counts);
            CHECK(cooked.furthest_k < 1);
        }
}
