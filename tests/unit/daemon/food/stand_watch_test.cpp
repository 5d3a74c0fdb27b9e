// A tip whose reading stands to the last digit, and food that truly stands.
#include "daemon/food/stand_watch.hpp"

#include <cmath>
#include <functional>
#include <optional>

#include "daemon/food/calculate.hpp"
#include "daemon/food/classes.hpp"
#include "daemon/model/memory.hpp"
#include "tests/support/catch.hpp"
#include "tests/unit/daemon/food/ledger_bench.hpp"

using namespace ingle;
using namespace ingle::test;

namespace {

constexpr double hour = 3600, stands_from = 2 * hour;

double whole(double c, double grain) {
    return std::round(c / grain) * grain;
}

// Roasted to 75 degC within two hours, and carried into a room of 21 degC.
double roast(double t) {
    return 96 - 92 * std::exp(-std::pow(t / 5600, 2));
}

struct Kitchen {
    std::function<double(double)> core, around;
    FoodPhase phase = FoodPhase::cooking;
    double every = 30, until = 6 * hour;
    bool medium = true;
};

FoodLedger read(Kitchen const& kitchen) {
    auto settings = dish("whole-poultry", 1, std::max(60.0, 3 * kitchen.every));
    FoodLedger ledger(std::move(settings), zero);
    ledger.stage(zero, kitchen.phase);
    bool chilled = false;
    for (double t = 0; t <= kitchen.until; t += kitchen.every) {
        if (kitchen.phase == FoodPhase::cooking && t >= stands_from && !chilled) {
            ledger.stage(at(t), FoodPhase::chilling);
            chilled = true;
        }
        if (kitchen.medium) ledger.medium(at(t), kitchen.around(t), Quality::good);
        ledger.take(at(t), 0, kitchen.core(t), Quality::good);
        ledger.advance(at(t));
    }
    return ledger;
}

double air(double t) {
    return t < stands_from ? 160 : 21;
}

bool doubted(FoodLedger const& ledger) {
    return ledger.doubt(0) == CoreDoubt::stuck;
}

}  // namespace

TEST_CASE(
    "a tip that stands to the last digit while what is around it is far away is not read, at any rhythm") {
    for (double const every : {1.0, 5.0, 10.0, 30.0, 60.0, 300.0}) {
        CAPTURE(every);
        auto const ledger = read({[](double t) { return whole(roast(std::min(t, stands_from)), 0.1); }, air,
                                  FoodPhase::cooking, every});
        CHECK(doubted(ledger));
        CHECK_FALSE(ledger.present(0));
        CHECK(verdict(ledger, "cooling").answer == "unknown");
        CHECK(verdict(ledger, "danger-zone").answer.find(" to ") != std::string::npos);
        // The stretch is a gap from the moment on when it was first read.
        CHECK(ledger.summary().gap_s == Approx(4 * hour).margin(900));
        auto const unread = concern(ledger, "core-unread");
        CHECK(unread.truth == Holds::yes);
        CHECK_THAT(unread.text, INGLE_CONTAINS("it stands to the last digit"));
    }
}

TEST_CASE("before an hour is over it counts, and what was read before it stood stays") {
    Kitchen kitchen{[](double t) { return whole(roast(std::min(t, stands_from)), 0.1); }, air};
    kitchen.until = stands_from + 0.9 * hour;
    CHECK_FALSE(doubted(read(kitchen)));
    kitchen.until = stands_from + 1.2 * hour;
    auto const ledger = read(kitchen);
    CHECK(doubted(ledger));
    CHECK(ledger.summary().peak_core_c.value_or(0) == Approx(whole(roast(stands_from), 0.1)));
}

TEST_CASE("a noisy tip that stops trembling has stopped measuring, wherever it is") {
    auto const noise = [](double t) { return 0.3 * std::sin(t * 1.7) + 0.2 * std::sin(t * 0.37); };
    Kitchen kitchen{[&](double t) { return 4.4 + (t < 4 * hour ? whole(noise(t), 0.1) : 0.0); },
                    [](double) { return 3.0; }, FoodPhase::cold_holding};
    CHECK(doubted(read(kitchen)));
    kitchen.core = [&](double t) { return 4.4 + whole(noise(t), 0.1); };
    CHECK_FALSE(doubted(read(kitchen)));
}

TEST_CASE("what truly stands is not suspected") {
    auto const cold = [](double) { return 3.4; };
    for (double const every : {1.0, 30.0, 300.0}) {
        CAPTURE(every);
        // In whole degrees in its fridge, and a fine one that has come to the bath that it lies in.
        CHECK_FALSE(
            doubted(read({[](double) { return 3.0; }, cold, FoodPhase::cold_holding, every, 12 * hour})));
        CHECK_FALSE(doubted(read({[](double t) { return whole(60 - 40 * std::exp(-t / 1500), 0.1); },
                                  [](double) { return 60.2; }, FoodPhase::cooking, every, 2 * hour - 1})));
        // It thaws, or freezes.
        CHECK_FALSE(doubted(read({[](double) { return -0.5; }, [](double) { return 20.0; },
                                  FoodPhase::cold_holding, every, 8 * hour})));
        // It boils.
        CHECK_FALSE(doubted(read({[](double t) { return whole(std::min(99.0, 20 + t / 40), 0.1); },
                                  [](double) { return 160.0; }, FoodPhase::reheating, every, 5 * hour})));
    }
    // It sweats in the heat for an hour and a half, read in whole degrees Fahrenheit.
    auto const sweats = [](double t) {
        double const c = t < 2 * hour     ? 68 - 60 * std::exp(-t / 2000)
                         : t < 4.5 * hour ? 68
                                          : 68 + (t - 4.5 * hour) / 900;
        return (whole(c * 1.8 + 32, 1) - 32) / 1.8;
    };
    CHECK_FALSE(doubted(read({sweats, [](double) { return 110.0; }, FoodPhase::reheating, 30, 7 * hour})));
    // Nothing is known of what is around it.
    CHECK_FALSE(doubted(read({[](double t) { return whole(roast(std::min(t, stands_from)), 0.1); }, air,
                              FoodPhase::cooking, 30, 8 * hour, false})));
    CHECK_FALSE(doubted(read({[](double t) { return whole(20 + 30 * std::exp(-t / 3000), 0.1); }, cold,
                              FoodPhase::resting, 30, 8 * hour, false})));
}

TEST_CASE("a coarse instrument is given longer, the longest in the heat") {
    auto const stands = [](double grain) {
        return [=](double t) { return whole(roast(std::min(t, stands_from)), grain); };
    };
    for (auto const& [grain, h] : {std::pair{0.5, 2.0}, std::pair{1.0, 3.0}}) {
        CAPTURE(grain);
        Kitchen kitchen{stands(grain), air};
        kitchen.medium = true;
        // It may have come to that degree a while before.
        kitchen.until = stands_from + (h - 0.6) * hour;
        CHECK_FALSE(doubted(read(kitchen)));
        kitchen.until = stands_from + (2 * h + 0.2) * hour;
        CHECK(doubted(read(kitchen)));
    }
}

TEST_CASE("a tip that moves again counts after a gap") {
    auto const cools = [](double t) { return 21 + 54 * std::exp(-(t - stands_from) / 7000); };
    Kitchen kitchen{[&](double t) {
                        return t < stands_from              ? whole(roast(t), 0.1)
                               : t < stands_from + 2 * hour ? whole(roast(stands_from), 0.1)
                                                            : whole(cools(t), 0.1);
                    },
                    air};
    kitchen.until = 8 * hour;
    auto const ledger = read(kitchen);
    CHECK_FALSE(doubted(ledger));
    CHECK(ledger.present(0));
    CHECK(ledger.summary().gap_s == Approx(2 * hour).margin(600));
    CHECK(verdict(ledger, "cooling").answer != "met");
}

TEST_CASE("the calculators take back what stood, too") {
    std::vector<FoodSample> series, medium;
    for (double t = 0; t <= 6 * hour; t += 30) {
        series.push_back({t, whole(roast(std::min(t, stands_from)), 0.1), false});
        medium.push_back({t, air(t), false});
    }
    auto const samples =
        core_samples(series, FoodPhase::chilling, food_class("whole-poultry"), medium, {}, false, 100, {});
    for (auto const& one : samples)
        if (one.t_s > stands_from + 300) CHECK_FALSE(one.celsius);
}

TEST_CASE("that a tip stands is known over a restart") {
    auto const ledger = read({[](double t) { return whole(roast(std::min(t, stands_from)), 0.1); }, air});
    Memory memory;
    ledger.remember(memory, "d.");
    FoodLedger again(dish("whole-poultry"), zero);
    again.recall(memory, "d.");
    for (double t = 6 * hour + 30; t <= 6.5 * hour; t += 30) {
        again.medium(at(t), 21, Quality::good);
        again.take(at(t), 0, whole(roast(stands_from), 0.1), Quality::good);
        again.advance(at(t));
    }
    CHECK(doubted(again));
    CHECK_FALSE(again.present(0));
}
