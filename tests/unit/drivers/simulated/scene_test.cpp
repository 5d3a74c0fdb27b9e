#include "drivers/simulated/scene.hpp"

#include <cmath>
#include <utility>

#include "tests/support/catch.hpp"
#include "tests/support/driver_rig.hpp"

using namespace ingle;
using namespace ingle::simulated;

namespace ingle {
extern DriverInfo const simulated_driver;
}

namespace {

double fahrenheit(double celsius) {
    return celsius * 1.8 + 32;
}

double stock_at(Scene& scene, double minutes) {
    scene.advance_to(minutes * 60);
    return fahrenheit(scene.truth(Thing::stockpot));
}

}  // namespace

TEST_CASE("the story: the stock drifts out of 180 to 190 degF and is brought back") {
    Scene scene(Story::supper);
    CHECK_THAT(stock_at(scene, 0), WithinAbs(184, 0.3));
    double last = 184;
    for (double minute : {0.5, 1.0, 1.5}) {
        double const now = stock_at(scene, minute);
        CHECK((now - last) * 2 > 2.5);  // degF a minute
        CHECK((now - last) * 2 < 4);
        CHECK(now < 190);
        last = now;
    }
    CHECK(stock_at(scene, 2.5) > 190);
    double const peak = stock_at(scene, 5);
    CHECK(peak > 193);
    CHECK(peak < 205);  // well below the boil
    CHECK(stock_at(scene, 10) < 189);
    for (int minute = 10; minute < 60; ++minute) {
        double const now = stock_at(scene, minute);
        CHECK(now > 182);
        CHECK(now < 189);
    }
}

TEST_CASE("the story: the smoker is opened, and recovers") {
    Scene scene(Story::supper);
    scene.advance_to(5.9 * 60);
    double const shut = scene.truth(Thing::smoker);
    CHECK_THAT(shut, WithinAbs(93, 4));
    scene.advance_to(6.5 * 60);
    CHECK(scene.smoker_open());
    CHECK(scene.truth(Thing::smoker) < shut - 15);
    scene.advance_to(30 * 60);
    CHECK_FALSE(scene.smoker_open());
    CHECK_THAT(scene.truth(Thing::smoker), WithinAbs(shut, 3));
}

TEST_CASE("a day in the hall stays physical") {
    Scene scene(Story::supper);
    double boar = scene.truth(Thing::boar_core), fridge_low = 99, fridge_high = -99;
    for (int minute = 1; minute <= 10 * 60; ++minute) {
        scene.advance_to(minute * 60);
        CHECK(scene.truth(Thing::boar_core) >= boar - 1e-9);  // the smoker is always hotter
        boar = scene.truth(Thing::boar_core);
        fridge_low = std::min(fridge_low, scene.truth(Thing::fridge));
        fridge_high = std::max(fridge_high, scene.truth(Thing::fridge));
        CHECK_THAT(scene.truth(Thing::oven), WithinAbs(203.5, 6));
        CHECK_THAT(scene.truth(Thing::trout_tub), WithinAbs(3.2, 1.0));
        CHECK(scene.pot().water > 3.4);
    }
    CHECK(boar > 55);
    CHECK(boar < scene.truth(Thing::smoker));
    CHECK(fridge_low > 0);
    CHECK(fridge_high < 6);
    CHECK(fridge_high - fridge_low > 2);  // the compressor comes and goes
    CHECK(scene.truth(Thing::goose_core) > 84);
    CHECK(scene.truth(Thing::goose_core) < 90);
}

TEST_CASE("steady means that nothing happens") {
    Scene scene(Story::steady);
    for (int minute = 0; minute < 120; ++minute) {
        CHECK_THAT(stock_at(scene, minute), WithinAbs(185.5, 2.5));
        CHECK_FALSE(scene.smoker_open());
    }
}

TEST_CASE("the same seconds give the same numbers, in one stride or in many") {
    Scene once(Story::supper), often(Story::supper);
    once.advance_to(3000);
    for (double t = 0; t <= 3000; t += 0.1) often.advance_to(t);
    often.advance_to(3000);
    for (std::size_t i = 0; i < thing_names.size(); ++i) {
        CHECK(once.truth(static_cast<Thing>(i)) == often.truth(static_cast<Thing>(i)));
        CHECK(once.felt(static_cast<Thing>(i)) == often.felt(static_cast<Thing>(i)));
    }
}

TEST_CASE("a probe shows steps of a quarter, with its own noise") {
    double sum = 0, squares = 0;
    int differs = 0;
    int const n = 4000;
    for (int k = 0; k < n; ++k) {
        double const value = shown(90.1, 1, Thing::smoker, static_cast<std::uint64_t>(k));
        CHECK(value * 4 == std::round(value * 4));
        CHECK(value == shown(90.1, 1, Thing::smoker, static_cast<std::uint64_t>(k)));
        if (value != shown(90.1, 2, Thing::smoker, static_cast<std::uint64_t>(k))) ++differs;
        sum += value;
        squares += (value - 90.1) * (value - 90.1);
    }
    CHECK_THAT(sum / n, WithinAbs(90.1, 0.03));
    // 0.25 K of noise and a quarter's rounding: sqrt(0.25^2 + 0.25^2 / 12).
    CHECK_THAT(std::sqrt(squares / n), WithinAbs(0.260, 0.015));
    CHECK(differs > n / 4);
}

TEST_CASE("the driver plays the scene at its speed, the same each time") {
    auto const play = [] {
        Options pot, tub;
        pot.set("of", std::string("stockpot"));
        pot.set("speed", 60.0);
        tub = pot;
        tub.set("of", std::string("trout-tub"));
        CHECK(problems(simulated_driver.options, pot).empty());
        test::DriverRig rig;
        auto const driver = simulated_driver.make(
            rig.context(), {test::wiring(0, "stock", Span{20}, pot), test::wiring(1, "tub", Span{50}, tub)});
        driver->start();
        CHECK(rig.run_until([&] { return rig.readings[0].size() >= 9 && rig.readings[1].size() >= 4; }));
        driver->stop();
        driver->stop();
        auto const before = rig.readings[0].size();
        rig.run_for(Span{50});
        CHECK(rig.readings[0].size() == before);
        return std::move(rig.readings);
    };
    auto first = play(), second = play();
    REQUIRE(first[0].size() >= 9);
    REQUIRE(first[1].size() >= 4);
    Scene scene(Story::supper);
    for (std::size_t k = 0; k < 9; ++k) {
        CHECK(first[0][k].at - first[0][0].at == Span{20} * static_cast<int>(k));
        scene.advance_to(static_cast<double>(k) * 0.020 * 60);
        CHECK(first[0][k].celsius() == shown(scene.felt(Thing::stockpot), 1, Thing::stockpot, k));
        CHECK(second[0].at(k).celsius() == first[0][k].celsius());
    }
    CHECK(first[1][3].at - first[1][0].at == Span{150});
}

TEST_CASE("the driver says what it does not know") {
    Options options;
    options.set("of", std::string("unicorn"));
    CHECK_FALSE(problems(simulated_driver.options, options).empty());
    test::DriverRig rig;
    CHECK_THROWS(simulated_driver.make(rig.context(), {test::wiring(0, "x", Span{1000}, options)}));
}
