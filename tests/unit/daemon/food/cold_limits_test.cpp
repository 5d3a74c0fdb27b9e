// What is said of food that was cold, or came down to it: one limit from the chilling to the keeping, and no
// more and no less than what was read of the tip and of what is around the food.
#include <algorithm>
#include <cmath>
#include <functional>

#include "tests/support/catch.hpp"
#include "tests/unit/daemon/food/ledger_bench.hpp"

using namespace ingle;
using namespace ingle::test;

namespace {

constexpr double hour = 3600;

// Brined for 26 h with the tip beside the food, from `read_from` on; then the air warms, and the food after
// it.
FoodLedger brined(double level_c, double read_from, double until, double level_air_c) {
    auto settings = dish("venison");
    settings.dish.thickness = Length{0.06};
    FoodLedger ledger(settings, zero);
    ledger.stage(zero, FoodPhase::brining);
    double core = level_c;
    for (double t = read_from; t <= until; t += 30) {
        double const swing = 0.1 * std::sin(t / 300);
        double const air =
            t < 26 * hour ? level_air_c + swing : std::min(10.0, level_air_c + (t - 26 * hour) / 300);
        if (t >= 26 * hour) core += (air - core) * 30 / 7200;
        ledger.medium(at(t), air, Quality::good);
        ledger.take(at(t), 0, t < 26 * hour ? core + swing : core, Quality::good);
        ledger.advance(at(t));
    }
    return ledger;
}

// Chilled along this curve, then kept cold from the moment that it comes to 41 degF.
FoodLedger kept(std::function<double(double)> const& core, double until, double to_c) {
    FoodLedger ledger(thin_dish("stock"), zero);
    ledger.stage(zero, FoodPhase::chilling);
    bool keeps = false;
    for (double t = 0; t <= until; t += 20) {
        ledger.take(at(t), 0, core(t), Quality::good);
        ledger.advance(at(t));
        if (!keeps && core(t) <= to_c) {
            keeps = true;
            ledger.stage(at(t), FoodPhase::cold_holding);
        }
    }
    return ledger;
}

}  // namespace

TEST_CASE("where the tip and what is around the food were both read cold, the food was not warm for a day") {
    auto const begins = brined(3.0, 0, 26.1 * hour, 3.0);
    CHECK(concern(begins, "cold-hold").truth != Holds::yes);
    CHECK(concern(begins, "danger-zone").truth != Holds::yes);
    CHECK(verdict(begins, "cold-hold").answer == "unknown");  // the food itself was not read
    CHECK(verdict(begins, "cold-hold-2h").answer == "unknown");
    CHECK_THAT(verdict(begins, "cold-hold").text,
               INGLE_CONTAINS("as cold as what is around the food") && INGLE_CONTAINS("not measured"));
    CHECK(begins.summary().danger_possible_s < 600);
    auto const warm = brined(3.0, 0, 30 * hour, 3.0);
    CHECK(concern(warm, "danger-zone").priority == Priority::high);  // what was measured is told all the same
    CHECK(verdict(warm, "cold-hold").answer == "missed");
    CHECK(warm.summary().danger_possible_s < 4.5 * hour);
}

TEST_CASE("what was not read, or read warm, bounds nothing") {
    auto const dead = brined(3.0, 24 * hour, 26.2 * hour, 3.0);
    CHECK(dead.summary().danger_possible_s > 20 * hour);
    CHECK(concern(dead, "danger-zone").truth == Holds::yes);
    auto const mild = brined(5.0, 0, 26.2 * hour, 5.0);
    CHECK(mild.summary().danger_possible_s > 25 * hour);
}

TEST_CASE("a restart keeps what was read cold beside the food") {
    auto const first = brined(3.0, 0, 20 * hour, 3.0);
    Memory memory;
    first.remember(memory, "d.");
    auto settings = dish("venison");
    settings.dish.thickness = Length{0.06};
    FoodLedger second(settings, zero);
    second.recall(memory, "d.");
    for (double t = 20 * hour + 30; t <= 21 * hour; t += 30) {
        second.medium(at(t), t < 20.5 * hour ? 3.0 : 5.0, Quality::good);
        second.take(at(t), 0, 3.0, Quality::good);
        second.advance(at(t));
    }
    CHECK(second.summary().danger_possible_s < 600);
    CHECK(verdict(second, "cold-hold").answer == "unknown");
}

TEST_CASE("what was above its target from the first reading on is not known, and not \"not reached\"") {
    auto const cools = [](double t) { return 3 + 87 * std::exp(-t / 3500); };
    auto const ledger = kept(cools, 6 * hour, 4.4);
    CHECK(verdict(ledger, "cooling").answer == "met");
    CHECK(verdict(ledger, "core-target").answer == "unknown");
    CHECK_THAT(verdict(ledger, "core-target").text, INGLE_CONTAINS("above it from its first reading on"));
    CHECK(verdict(ledger, "in short").answer == "unknown");
    CHECK(ledger.class_asks_more(4.4).empty());  // of a target of chilling
    // What was seen below it first is known.
    auto const below = kept([&](double t) { return cools(t + 900); }, 6 * hour, 4.4);
    CHECK(verdict(below, "core-target").answer == "not reached");
}

// Chilled by FDA Food Code 3-501.14 to 41 degF, kept by the USDA's 40 degF.
TEST_CASE("chilled to 41 degF it is on its way to the 40 degF of keeping, for four hours") {
    auto const noise = [](double t) { return 0.04 * std::sin(t * 1.7); };
    auto const cools = [&](double t) { return 3 + 87 * std::exp(-t / 3500) + noise(t); };
    auto const good = kept(cools, 8 * hour, 5.0);
    CHECK(verdict(good, "cooling").answer == "met");
    CHECK(verdict(good, "cold-hold").answer == "met");
    auto const rises = [&](double t) {
        return t < 4 * hour ? cools(t) : std::min(8.0, cools(4 * hour) + (t - 4 * hour) / 1200);
    };
    CHECK(verdict(kept(rises, 8 * hour, 5.0), "cold-hold").answer == "missed");
    auto const stays = [&](double t) { return std::max(4.8, cools(t)) + noise(t); };
    CHECK(verdict(kept(stays, 6 * hour, 5.0), "cold-hold").answer != "met");
    CHECK(verdict(kept(stays, 12 * hour, 5.0), "cold-hold").answer == "missed");
}

TEST_CASE("a heat that was not read is unknown, and a come-up that did not end is not within its limit") {
    FoodLedger ledger(thin_dish("whole-poultry"), zero);
    ledger.stage(zero, FoodPhase::cooking);
    feed(ledger, Curve{{{0, 5}, {20, 20}}}, 0, 1200);
    CHECK_THAT(verdict(ledger, "lethality").text, INGLE_CONTAINS("not seen at its end"));
    CHECK(verdict(ledger, "lethality").answer == "not reached so far");
    ledger.advance(at(5 * hour));
    CHECK(verdict(ledger, "lethality").answer == "unknown");
    CHECK(verdict(ledger, "core-target").answer == "unknown");
    CHECK(verdict(ledger, "in short").answer != "not reached");
    CHECK_THAT(verdict(ledger, "lethality").text, !INGLE_CONTAINS("within the 6 h"));
}
