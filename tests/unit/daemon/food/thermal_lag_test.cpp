// A tip in air that warms slowly is no core, at every rhythm; the centre of a dish is, without its thickness.
#include "daemon/food/thermal_lag.hpp"

#include <array>
#include <cmath>
#include <functional>
#include <random>

#include "daemon/forecast/conduction.hpp"
#include "tests/support/catch.hpp"
#include "tests/unit/daemon/food/ledger_bench.hpp"

using namespace ingle;
using namespace ingle::test;

namespace {

using Readings = std::function<double(double)>;
constexpr std::array rhythms{1.0, 5.0, 10.0, 30.0, 60.0, 300.0};

// From `from_c` to `to_c` with this time constant, after a time at rest.
Readings air(double from_c, double to_c, double minutes, double rest_s = 0) {
    return [=](double t) {
        return to_c + (from_c - to_c) * std::exp(-std::max(0.0, t - rest_s) / (60 * minutes));
    };
}

// The centre of a body by the exact series; set in at 4 degC into what keeps `medium_c`.
Readings centre(Shape shape, double thickness_m, double medium_c, double h) {
    double const radius = thickness_m / 2;
    Conduction const body(shape, h * radius / meat_properties.conductivity);
    return [=](double t) {
        double const fourier = meat_properties.diffusivity() * t / (radius * radius);
        double const theta = fourier < 0.004 ? 1 : std::min(1.0, body.centre(fourier));
        return medium_c + (4 - medium_c) * theta;
    };
}

FoodLedger cooked(LedgerSettings settings, Readings const& tip, double until, double every,
                  FoodPhase phase = FoodPhase::cooking) {
    settings.longest_step = from_seconds(std::max(60.0, 3 * every));
    FoodLedger ledger(settings, zero);
    ledger.stage(zero, phase);
    for (double t = 0; t <= until; t += every) ledger.take(at(t), 0, std::min(tip(t), 200.0), Quality::good);
    ledger.advance(at(until + CoreEvidence::hold_s));
    return ledger;
}

}  // namespace

TEST_CASE("a tip in air that warms slowly is never a core that is done, at any rhythm") {
    for (auto const* food : {"whole-meat", "whole-poultry", "fresh-ham", "fish", "vegetable", ""})
        for (double const minutes : {5.0, 10.0, 20.0, 40.0, 60.0})
            for (double const to : {85.0, 93.0, 101.0, 120.0, 180.0})
                for (double const rest : {0.0, 700.0})
                    for (double const every : rhythms) {
                        INFO(food << ", " << minutes << " min to " << to << " degC, rest " << rest
                                  << " s, every " << every << " s");
                        auto const ledger = cooked(dish(food), air(18, to, minutes, rest), 3 * 3600, every);
                        CHECK(verdict(ledger, "core-target").answer != "met");
                        CHECK_FALSE(ledger.summary().target_met);
                        CHECK(ledger.lethality_log10().value_or(0) == 0);
                        CHECK(concern(ledger, "core-target").truth != Holds::yes);
                    }
    auto const told = cooked(dish("whole-poultry"), air(18, 93, 20), 7200, 10);
    CHECK_THAT(verdict(told, "core-target").text, INGLE_CONTAINS("give the dish a thickness"));
    CHECK_THAT(verdict(told, "core-target").text, INGLE_CONTAINS("as air or a surface does"));
}

TEST_CASE(
    "a tip that follows its measured air late is never a core that is done, with or without a thickness") {
    for (std::optional<Length> const thickness : {std::optional<Length>(), std::optional(Length{0.10})})
        for (double const minutes : {5.0, 15.0, 30.0, 50.0})
            for (double const from : {5.0, 25.0, 40.0})
                for (double const every : rhythms) {
                    // What is warm at its begin may be a body on its way, if it is slow enough for one.
                    if (from == 40 && minutes > (thickness ? 30 : 15)) continue;
                    INFO((thickness ? "10 cm, " : "no thickness, ")
                         << minutes << " min from " << from << " degC, every " << every << " s");
                    auto settings = dish("bear-boar");
                    settings.dish.thickness = thickness;
                    settings.boiling_c = 99.2;
                    settings.longest_step = from_seconds(std::max(60.0, 3 * every));
                    FoodLedger ledger(settings, zero);
                    ledger.stage(zero, FoodPhase::cooking);
                    auto const tip = air(from, 103, minutes);
                    bool told = false;
                    for (double t = 0; t <= 4 * 3600; t += every) {
                        ledger.medium(at(t), 103 + 2 * std::sin(t / 600), Quality::good);
                        ledger.take(at(t), 0, tip(t), Quality::good);
                        told = told || concern(ledger, "core-target").truth == Holds::yes;
                    }
                    CHECK_FALSE(told);
                    CHECK(verdict(ledger, "core-target").answer != "met");
                    CHECK(verdict(ledger, "in short").answer != "no limit passed");
                    CHECK(ledger.lethality_log10().value_or(0) == 0);
                }
}

TEST_CASE("the usual roast, ham, roll and bird are known for what they are without a thickness") {
    struct Usual {
        char const* food;
        Shape shape;
        double thickness_m, medium_c, h;
    };
    for (auto const& usual :
         {Usual{"whole-meat", Shape::cylinder, 0.10, 180, 18},
          Usual{"whole-poultry", Shape::sphere, 0.10, 190, 20},
          Usual{"fresh-ham", Shape::sphere, 0.16, 160, 18},
          Usual{"ground-poultry", Shape::cylinder, 0.09, 85, 300},
          Usual{"venison", Shape::cylinder, 0.08, 110, 18}, Usual{"stuffed", Shape::sphere, 0.12, 204, 20}}) {
        auto const tip = centre(usual.shape, usual.thickness_m, usual.medium_c, usual.h);
        auto const target = food_class(usual.food)->targets.front();
        double until = 0;
        while (tip(until) < target.celsius() + 2) until += 60;
        until += 1200;
        for (double const every : rhythms) {
            INFO(usual.food << " every " << every << " s");
            auto const ledger = cooked(
                dish(usual.food), [&](double t) { return std::min(tip(t), 98.0); }, until, every);
            CHECK(verdict(ledger, "core-target").answer == "met");
        }
    }
}

TEST_CASE("a small thing is met when its thickness is said") {
    // A sausage of 3 cm and a roll of 2 cm in stock of 185 degF.
    for (double const thickness : {0.02, 0.03}) {
        auto const tip = centre(Shape::cylinder, thickness, 85, 300);
        auto settings = dish("ground-poultry");
        CHECK(verdict(cooked(settings, tip, 2400, 5), "core-target").answer != "met");
        settings.dish.thickness = Length{thickness};
        for (double const every : {1.0, 10.0, 30.0})
            CHECK(verdict(cooked(settings, tip, 2400, every), "core-target").answer == "met");
    }
}

TEST_CASE("air that hovers about a target, or creeps past boiling, is no core") {
    for (double const every : rhythms) {
        auto const hovers = cooked(
            dish("whole-poultry"), [](double t) { return 74 + 3 * std::sin(t / 400); }, 7200, every);
        CHECK(verdict(hovers, "core-target").answer != "met");
        CHECK(concern(hovers, "core-target").truth != Holds::yes);
        // Slower than a test of the lag can show, but no food comes to 110 degC.
        auto const creeps = cooked(
            dish("whole-poultry"), [](double t) { return 20 + t / 120; }, 4 * 3600, every);
        CHECK(verdict(creeps, "core-target").answer == "unknown");
        CHECK(creeps.lethality_log10().value_or(0) == 0);
    }
}

TEST_CASE("air that was not read for a time, that smoulders first or that swings is no core either") {
    auto const warming = air(18, 93, 20);
    for (double const every : rhythms) {
        INFO("every " << every << " s");
        auto settings = dish("whole-meat");
        settings.longest_step = from_seconds(std::max(60.0, 3 * every));
        FoodLedger holed(settings, zero);
        holed.stage(zero, FoodPhase::cooking);
        for (double t = 0; t <= 9000; t += every)
            if (t < 300 || t > 2400) holed.take(at(t), 0, warming(t), Quality::good);
        holed.advance(at(9100));
        CHECK(verdict(holed, "core-target").answer != "met");
        auto const fire = air(25, 95, 15, 1500);
        auto const smoulders = cooked(
            dish("whole-poultry"), [&](double t) { return t < 1500 ? 15 + t / 150 : fire(t); }, 9000, every);
        // At one reading in five minutes it is not seen where the fire began.
        if (every < 300) CHECK(verdict(smoulders, "core-target").answer != "met");
        auto const swings = cooked(
            dish("leftover"), [](double t) { return 70 + 5 * std::sin(t / 400); }, 9000, every);
        CHECK(verdict(swings, "core-target").answer != "met");
    }
}

TEST_CASE("air that cools is not food that was chilled in time; what it shows of the bad stays") {
    for (double const every : rhythms)
        for (double const minutes : {5.0, 10.0, 20.0, 40.0}) {
            INFO(minutes << " min, every " << every << " s");
            auto const ledger =
                cooked(dish("whole-meat"), air(62, 3, minutes), 6 * 3600, every, FoodPhase::chilling);
            CHECK(ledger.summary().cooling == CoolingAnswer::unknown);
            // So quick at five minutes a reading that it is a probe that was moved.
            if (every < 300) CHECK(ledger.summary().danger_possible_s > 5 * 3600);
        }
    // A core that was seen to be one on its way up is one on its way down.
    auto const up = centre(Shape::cylinder, 0.08, 180, 18);
    FoodLedger ledger(dish("whole-meat"), zero);
    ledger.stage(zero, FoodPhase::cooking);
    double t = 0;
    for (; up(t) < 72; t += 10) ledger.take(at(t), 0, up(t), Quality::good);
    ledger.stage(at(t), FoodPhase::chilling);
    double const out = t;
    for (; t < out + 5 * 3600; t += 10)
        ledger.take(at(t), 0, 3 + 69 * std::exp(-(t - out) / 4000), Quality::good);
    ledger.advance(at(t + 60));
    CHECK(ledger.summary().cooling == CoolingAnswer::met);
}

TEST_CASE("air over a fire that takes a minute to burn well is no core, whatever noise is on it") {
    std::mt19937 random(7);
    for (double const minutes : {4.5, 9.0, 10.0, 15.0, 18.0, 20.0, 22.0, 30.0})
        for (double const burns_s : {20.0, 60.0})
            for (double const to : {80.0, 97.0, 122.0})
                for (double const noise_k : {0.03, 0.15, 0.3})
                    for (double const every : {5.0, 10.0, 15.0, 60.0}) {
                        INFO(minutes << " min, " << burns_s << " s, to " << to << " degC, noise " << noise_k
                                     << " K, every " << every << " s");
                        std::normal_distribution<double> noise(0, noise_k);
                        double const slow_s = 60 * minutes;
                        auto const lit = [&](double t) {
                            double const since = std::max(0.0, t - 900);
                            double const left =
                                (slow_s * std::exp(-since / slow_s) - burns_s * std::exp(-since / burns_s)) /
                                (slow_s - burns_s);
                            return to + (10 - to) * left + noise(random);
                        };
                        auto const ledger = cooked(dish("ground-meat"), lit, 3 * 3600, every);
                        CHECK(verdict(ledger, "core-target").answer != "met");
                        CHECK_FALSE(ledger.summary().danger_possible_s < 2 * 3600);
                    }
}

TEST_CASE("pushed from the air into the food, the tip is looked at afresh") {
    auto const warming = air(20, 95, 20);
    auto const roast = [](double t) { return 8 + (t - 3000) * 0.006; };
    for (double const every : {5.0, 60.0}) {
        auto const ledger = cooked(
            dish("whole-meat"), [&](double t) { return t < 3000 ? warming(t) : roast(t); }, 3000 + 10000,
            every);
        CHECK(verdict(ledger, "core-target").answer == "met");
        CHECK(ledger.summary().danger_possible_s >= 3000);
    }
}

TEST_CASE("a restart forgets neither that the tip is in air nor that it is in a body") {
    for (bool const in_air : {true, false}) {
        auto const tip = in_air ? air(18, 93, 20) : centre(Shape::cylinder, 0.09, 180, 18);
        FoodLedger first(dish("whole-meat"), zero);
        first.stage(zero, FoodPhase::cooking);
        double const half = in_air ? 1500 : 3000;
        for (double t = 0; t <= half; t += 10) first.take(at(t), 0, tip(t), Quality::good);
        Memory memory;
        first.remember(memory, "d.");
        FoodLedger second(dish("whole-meat"), zero);
        second.recall(memory, "d.");
        for (double t = half + 10; t <= 12000; t += 10)
            second.take(at(t), 0, std::min(tip(t), 98.0), Quality::good);
        CHECK((verdict(second, "core-target").answer == "met") == !in_air);
    }
}
