// How a tip that was moved comes back: put in, it is there at once; the air around it comes there gradually.
#include "daemon/food/return_path.hpp"

#include <cmath>

#include "daemon/food/core_evidence.hpp"
#include "tests/support/catch.hpp"

using namespace ingle;

namespace {

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
