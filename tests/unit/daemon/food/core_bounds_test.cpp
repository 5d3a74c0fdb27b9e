// Each bound of the judge of a core probe, just inside and just outside. Where no other source is named in
// core_evidence.cpp they are our own judgement: what holds them is that they are known and change by intent
// only.
#include <algorithm>

#include "daemon/food/boiling.hpp"
#include "daemon/food/core_evidence.hpp"
#include "tests/support/catch.hpp"

using namespace ingle;

namespace {

// The steepest of a sphere's series solution for the least dish of an unknown food, 5 cm (core_track.hpp).
constexpr double fastest = 5.9 * 1.5e-7 * 130 / (0.025 * 0.025);

struct Tip {
    CoreEvidence evidence;
    double t = 0, c = 0;
    FoodPhase phase = FoodPhase::cooking;
    std::vector<JudgedReading> judged;

    explicit Tip(double begin_c, FoodPhase its = FoodPhase::cooking, double boiling_c = 100)
        : evidence({}, nullptr, boiling_c), c(begin_c), phase(its) {
        read(begin_c, 0);
    }
    Tip& read(double celsius, double after) {
        t += after;
        c = celsius;
        evidence.take(t, c, false, phase, std::nullopt);
        for (auto const& one : evidence.take_judged()) judged.push_back(one);
        return *this;
    }
    // For so long, at this many K/s.
    Tip& go(double seconds, double k_per_s = 0, double every = 10) {
        for (double end = t + seconds; t < end - 1e-9;) read(c + k_per_s * every, every);
        return *this;
    }
    bool counts() const { return evidence.doubt() == CoreDoubt::none; }
    std::size_t counted() const {
        return static_cast<std::size_t>(std::ranges::count(judged, CoreDoubt::none, &JudgedReading::doubt));
    }
};

Tip at_rest(double c, FoodPhase phase = FoodPhase::cooking) {
    return Tip(c, phase).go(400);
}
Tip at_rest(double c, double boiling_c) {
    return Tip(c, FoodPhase::cooking, boiling_c).go(400);
}

// At rest at `c`, then for so long in something at `there`.
Tip away(double c, double there, double seconds, FoodPhase phase = FoodPhase::cooking, double slope = 0) {
    auto tip = Tip(c - 400 * slope, phase).go(400, slope);
    return tip.read(there, 10).go(seconds - 10);
}

}  // namespace

TEST_CASE("from one reading to the next: noise, and what the fastest core does") {
    CHECK(at_rest(20).read(20 + 2 + 10 * fastest - 0.02, 10).counts());
    CHECK_FALSE(at_rest(20).read(20 + 2 + 10 * fastest + 0.02, 10).counts());
    CHECK(at_rest(20).read(20 - 2 - 10 * fastest + 0.02, 10).counts());
    CHECK_FALSE(at_rest(20).read(20 - 2 - 10 * fastest - 0.02, 10).counts());
}

TEST_CASE("over a longer time a core that was at rest surges by six kelvin, and more by twice its slope") {
    CHECK(at_rest(20).read(27.95, 40).counts());
    CHECK_FALSE(at_rest(20).read(28.05, 40).counts());
    auto const rising = [](double further) {
        auto tip = Tip(20).go(400, 0.02);
        return tip.read(tip.c + further, 60).counts();
    };
    CHECK(rising(2 + 6 + 2 * 0.02 * 60 - 0.05));
    CHECK_FALSE(rising(2 + 6 + 2 * 0.02 * 60 + 0.05));
    // Too short to have a slope: less than a minute of readings.
    CHECK_FALSE(Tip(20).go(60, 0.02, 60).read(21.2 + 8.05 + 2.4, 60).go(0).counts());
}

TEST_CASE("a jump is looked for over five minutes") {
    // In steps that each could be a core's.
    auto const climbs = [](double pause) {
        return at_rest(20).read(23.5, 10).go(pause).read(27, 10).read(28.2, 10).counts();
    };
    CHECK_FALSE(climbs(0));
    CHECK(climbs(400));
}

TEST_CASE("ten seconds of it are a moved probe, less is a wild reading") {
    auto const excursion = [](double seconds) {
        return at_rest(20).read(60, 1).go(seconds, 0, 1).read(20, 1).counts();
    };
    CHECK(excursion(9));
    CHECK_FALSE(excursion(10));
    // Read more seldom: the second one decides.
    CHECK(at_rest(20).read(60, 11).read(20, 11).counts());
    CHECK_FALSE(at_rest(20).read(60, 11).read(60, 11).read(20, 11).counts());
}

TEST_CASE("at the begin it counts once it was slow for a minute") {
    CHECK_FALSE(Tip(20).go(59, 0, 1).counts());
    CHECK(Tip(20).go(60, 0, 1).counts());
    CHECK(Tip(20).read(26.95, 60).counts());
    CHECK_FALSE(Tip(20).read(27.05, 60).counts());
    CHECK_FALSE(Tip(20).read(20, 59).counts());
}

TEST_CASE("after a move it counts once it was slow for a minute where the core may be") {
    CHECK_FALSE(away(20, 80, 300).read(20, 10).go(50).counts());
    CHECK(away(20, 80, 300).read(20, 10).go(60).counts());
    auto const next = [](double further) {
        return away(20, 80, 300).read(20, 60).read(20 + further, 60).counts();
    };
    CHECK(next(1 + 0.02 * 60 - 0.05));
    CHECK_FALSE(next(1 + 0.02 * 60 + 0.05));
    // A core that moved quickly before may be as quick again, by half more.
    auto const quick = [](double further) {
        auto tip = away(40, 90, 120, FoodPhase::cooking, 0.04);
        return tip.read(44, 60).read(44 + further, 60).counts();
    };
    CHECK(quick(1 + 0.06 * 60 - 0.1));
    CHECK_FALSE(quick(1 + 0.06 * 60 + 0.1));
    // And never by more than seven kelvin in all, however long between two readings.
    auto const far = [](double further) {
        return away(50, 100, 5000).read(46, 60).read(46 + further, 600).counts();
    };
    CHECK(far(6.95));
    CHECK_FALSE(far(7.05));
}

TEST_CASE("how far it may have gone while its tip was elsewhere") {
    // Three kelvin, and ten in an hour until it is back there: the time away, ten seconds, and the half
    // minute before it moved.
    auto const back_at = [](double off, double seconds) {
        return away(50, 100, seconds).read(50 + off, 10).go(60).counts();
    };
    double const reach = 3 + 10.0 / 3600 * (1200 + 10 + CoreEvidence::hold_s);
    for (double const side : {1.0, -1.0}) {
        CHECK(back_at(side * (reach - 0.15), 1200));
        CHECK_FALSE(back_at(side * (reach + 0.15), 1200));
    }
    // Thinner food goes with the square of its thickness, and not faster than it can.
    CoreEvidence thin(Length{0.05});
    double t = 0;
    for (; t <= 400; t += 10) thin.take(t, 50, false, FoodPhase::cooking, std::nullopt);
    for (; t <= 1600; t += 10) thin.take(t, 100, false, FoodPhase::cooking, std::nullopt);
    for (double end = t + 60; t <= end; t += 10) thin.take(t, 64, false, FoodPhase::cooking, std::nullopt);
    CHECK(thin.doubt() == CoreDoubt::none);  // 3 K and 40 K in an hour: 17.4 K
}

TEST_CASE(
    "pushed to a place that is further from done, it is one after ten minutes in which it warms by a "
    "kelvin") {
    // But for the last minute, in which it may just be moved again.
    auto const elsewhere = [](double seconds, double rise) {
        return away(60, 100, 300).read(30, 10).go(seconds, rise / seconds).counts();
    };
    CHECK(elsewhere(600, 1.12));
    CHECK_FALSE(elsewhere(590, 1.5));
    CHECK_FALSE(elsewhere(600, 1.1));
    CHECK_FALSE(elsewhere(600, -2));
    auto const warmer = away(30, 100, 300).read(70, 10).go(1200, 0.002);
    CHECK_FALSE(warmer.counts());
    // While it is chilled it is the other way round.
    auto const chilled = [](double to, double slope) {
        return away(30, 2, 300, FoodPhase::chilling).read(to, 10).go(700, slope).counts();
    };
    CHECK(chilled(60, -0.002));
    CHECK_FALSE(chilled(60, 0.002));
    CHECK_FALSE(chilled(12, -0.002));
}

TEST_CASE("in the cold a level alone shows for an hour only that the tip is back") {
    auto const bare = [](double seconds) {
        return away(20, 80, seconds, FoodPhase::chilling).read(20, 10).go(60).evidence.bare();
    };
    CHECK_FALSE(bare(3600 - 10 - 60 - CoreEvidence::hold_s - 10));
    CHECK(bare(3600 - 10 - 60 - CoreEvidence::hold_s + 20));
}

TEST_CASE(
    "equal to the medium: half a kelvin where it is cold, a tenth of its way above a room where it heats") {
    auto const equal = [](double c, double medium, FoodPhase phase) {
        CoreEvidence evidence({});
        evidence.take(0, c, false, phase, medium);
        return evidence.doubt() == CoreDoubt::at_medium;
    };
    for (double const side : {1.0, -1.0}) {
        CHECK(equal(4 + side * 0.49, 4, FoodPhase::chilling));
        CHECK_FALSE(equal(4 + side * 0.51, 4, FoodPhase::chilling));
        CHECK(equal(90 + side * 6.95, 90, FoodPhase::cooking));
        CHECK_FALSE(equal(90 + side * 7.05, 90, FoodPhase::cooking));
        CHECK(equal(60 + side * 2.45, 60, FoodPhase::hot_holding));
        CHECK_FALSE(equal(60 + side * 2.55, 60, FoodPhase::hot_holding));
    }
    CHECK_FALSE(equal(45.6, 45, FoodPhase::cooking));
    CHECK(equal(45.7, 45.1, FoodPhase::cooking));
}

// Boiling point of water: IAPWS R7-97 at the standard atmosphere (boiling_test.cpp). A thermometer that is
// off by 1 degC is within FDA Food Code 4-203.11(A); 5 % of salt: i Kb m = 2 x 0.512 x 0.90 = 0.92 K at most.
TEST_CASE("no core is hotter than water boils here, with what a probe, salt and weather may add") {
    CHECK_THAT(hottest_core_c(100), WithinAbs(100 + 1 + 0.5 + 0.9, 0.1));
    double const village = boiling_point_here({}, Length{240}).celsius;
    CHECK_THAT(village, WithinAbs(99.2, 0.05));
    CHECK_THAT(boiling_point_here({}, Length{2000}).celsius, WithinAbs(93.4, 0.1));
    CHECK(boiling_point_here(Pressure{80000}, Length{240}).celsius < 94);  // what is measured before the map
    CHECK(boiling_point_here({}, {}).celsius == boiling_point_here({}, Length{0}).celsius);
    CHECK(boiling_point_here({}, Length{99000}).celsius == 100);
    for (double const boiling : {village, 100.0, 93.4}) {
        double const most = hottest_core_c(boiling);
        auto const hot = [&] { return at_rest(most - 14, boiling).go(600, 0.01); };  // 8 K below it
        CHECK(hot().go(390, 0.02).read(most, 10).counts());
        auto const crept = hot().go(390, 0.02).read(most + 0.01, 10);
        CHECK(crept.evidence.doubt() == CoreDoubt::above_boiling);
        CHECK(std::ranges::any_of(crept.judged, &JudgedReading::voids));
        auto const jumped = at_rest(most - 10.1, boiling).read(most + 0.5, 60);
        CHECK(jumped.evidence.doubt() == CoreDoubt::above_boiling);
        CHECK(std::ranges::none_of(jumped.judged, &JudgedReading::voids));
    }
}

TEST_CASE("fifteen kelvin from what is around it, it is in something if it goes there slowly") {
    auto const shown = [](double medium, double c = 40, double k_per_s = 0) {
        CoreEvidence evidence({});
        for (double t = 0; t <= 130; t += 10)
            evidence.take(t, c + k_per_s * t, false, FoodPhase::cooking, medium);
        return evidence.shown();
    };
    CHECK(shown(55));
    CHECK_FALSE(shown(54.9));
    CHECK(shown(25));
    CHECK_FALSE(shown(25.1));
    // A sphere of 5 cm in quick air has a time constant of 0.025^2/a (1/pi^2 + k/(3 h R)) = 1313.6 s.
    CHECK(shown(105, 40, 62.0 / 1313.6 - 0.002));
    CHECK_FALSE(shown(105, 40, 62.0 / 1313.6 + 0.002));
    // What begins cold shows it by its lag, or by going four times as slowly.
    CHECK_FALSE(shown(105, 20));
    CHECK_FALSE(shown(205, 20, 0.0245));  // it has hardly moved
    CHECK(shown(205, 20, 0.0255));
    CHECK_FALSE(shown(205, 20, 183.0 / (4 * 1313.6) + 0.001));
}

TEST_CASE("three even steps at a slow rhythm are a quick core; uneven or few they are a moved tip") {
    // 11 K a minute is within what a core does, and from rest beyond its surge.
    auto const steps = [](double every, std::initializer_list<double> ways) {
        auto tip = Tip(20).go(400);
        for (double const way : ways) tip.read(tip.c + way, every);
        return tip.counts();
    };
    CHECK(steps(60, {11, 11, 11}));
    CHECK_FALSE(steps(60, {11, 11}));
    CHECK_FALSE(steps(60, {11, 9, 5.4}));
    CHECK_FALSE(steps(60, {11, 11, -11}));
    CHECK_FALSE(steps(44, {8.1, 8.1, 8.1}));
    CHECK(steps(45, {8.2, 8.2, 8.2}));
    CHECK_FALSE(steps(60, {11.2, 11.2, 11.2}));
}
