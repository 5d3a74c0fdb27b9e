// What was not read is unknown, and the air is not the food.
#include <cmath>

#include "tests/support/catch.hpp"
#include "tests/unit/daemon/food/ledger_bench.hpp"

using namespace ingle;
using namespace ingle::test;

TEST_CASE("the time from the begin to the first reading is a gap for every rule") {
    FoodLedger fridge(dish("stock"), zero);
    fridge.stage(zero, FoodPhase::cold_holding);
    feed(fridge, Curve{{{0, 3}}}, 36000, 39600);
    CHECK(verdict(fridge, "cooling").answer == "unknown");
    CHECK(verdict(fridge, "cold-hold").answer == "unknown");
    CHECK(verdict(fridge, "in short").answer == "unknown");

    FoodLedger brine(dish("whole-poultry"), zero);
    brine.stage(zero, FoodPhase::brining);
    feed(brine, Curve{{{0, 3}}}, 86400, 90000);
    CHECK(verdict(brine, "cold-hold").answer == "unknown");
    CHECK(verdict(brine, "cold-hold-2h").answer == "unknown");

    FoodLedger roast(dish("whole-meat"), zero);  // 8 h unread, then 120 degF, then done
    roast.stage(zero, FoodPhase::cooking);
    feed(roast, Curve{{{480, 49}, {500, 55}, {540, 66}}}, 480 * 60, 540 * 60);
    CHECK_THAT(verdict(roast, "lethality").text, INGLE_CONTAINS("over the 6 h"));
    CHECK(*roast.lethality_log10() == 0);
}

TEST_CASE("the time from the last reading to the end is a gap for every rule") {
    FoodLedger roast(dish("whole-meat"), zero);
    roast.stage(zero, FoodPhase::cooking);
    feed(roast, Curve{{{0, 5}, {120, 49}}}, 0, 7200);
    CHECK(verdict(roast, "cooling").answer == "not-applicable");
    roast.advance(at(5 * 3600));
    CHECK(verdict(roast, "cooling").answer == "unknown");
    CHECK(verdict(roast, "core-target").answer == "unknown");

    FoodLedger fridge(dish("fish"), zero);
    fridge.stage(zero, FoodPhase::cold_holding);
    feed(fridge, Curve{{{0, 3}}}, 0, 3600);
    CHECK(verdict(fridge, "cold-hold").answer == "met");
    fridge.advance(at(5 * 3600));
    CHECK(verdict(fridge, "cold-hold").answer == "unknown");
    CHECK(verdict(fridge, "cold-hold-2h").answer == "unknown");
}

TEST_CASE("the air was within its limit, and the food was not measured") {
    for (bool const hot : {false, true}) {
        FoodLedger food(dish("fish", 0), zero);
        food.stage(zero, hot ? FoodPhase::hot_holding : FoodPhase::cold_holding);
        for (double t = 0; t <= 7200; t += 30) food.medium(at(t), hot ? 70 : 3, Quality::good);
        auto const held = verdict(food, hot ? "hot-hold" : "cold-hold");
        CHECK(held.answer == "food not measured");
        CHECK_THAT(held.text, INGLE_CONTAINS("all the time") && INGLE_CONTAINS("not measured"));
    }
    // A core that is there and was never read: the air stands in for nothing.
    FoodLedger dead(dish("fish", 1), zero);
    dead.stage(zero, FoodPhase::cold_holding);
    for (double t = 0; t <= 7200; t += 30) dead.medium(at(t), 3, Quality::good);
    CHECK(verdict(dead, "cold-hold").answer == "unknown");
}

// FoodSafety.gov: perishable food above 40 degF for more than 2 h is thrown away.
TEST_CASE("a hole is judged at its worst at the first reading after it") {
    FoodLedger fridge(dish("fish"), zero);
    fridge.stage(zero, FoodPhase::cold_holding);
    feed(fridge, Curve{{{0, 3}}}, 0, 3600);
    fridge.take(at(4 * 3600), 0, 8.9, Quality::good);
    fridge.advance(at(4 * 3600 + 40));  // half a minute, until a reading is certain
    auto const told = concern(fridge, "cold-hold");
    REQUIRE(told.truth == Holds::yes);
    CHECK(told.at_once);
    CHECK_THAT(told.text, INGLE_CONTAINS("8.9 degC") && INGLE_CONTAINS("3 h"));
    // Cold again at the return: possible all the same, and not as sure.
    FoodLedger cold(dish("fish"), zero);
    cold.stage(zero, FoodPhase::cold_holding);
    feed(cold, Curve{{{0, 3}}}, 0, 3600);
    cold.take(at(4 * 3600), 0, 3, Quality::good);
    cold.advance(at(4 * 3600 + 40));
    CHECK(concern(cold, "cold-hold").priority == Priority::medium);
    CHECK_THAT(concern(cold, "cold-hold").text, INGLE_CONTAINS("may have been"));
    // A short one says nothing.
    FoodLedger brief(dish("fish"), zero);
    brief.stage(zero, FoodPhase::cold_holding);
    feed(brief, Curve{{{0, 3}}}, 0, 3600);
    brief.take(at(2 * 3600), 0, 3, Quality::good);
    brief.advance(at(2 * 3600 + 40));
    CHECK(concern(brief, "cold-hold").truth == Holds::no);
}

TEST_CASE("more than 2 h in 24 h above the limit, measured: in many short spells too") {
    FoodLedger fridge(dish("fish"), zero);
    fridge.stage(zero, FoodPhase::cold_holding);
    auto const hour = [](double t) { return std::fmod(t, 3600) < 480 ? 6.0 : 3.0; };  // 8 min in each
    for (double t = 0; t < 12 * 3600; t += 30) fridge.take(at(t), 0, hour(t + 600), Quality::good);
    CHECK(concern(fridge, "cold-hold").truth == Holds::no);
    for (double t = 12 * 3600; t < 17 * 3600; t += 30) fridge.take(at(t), 0, hour(t + 600), Quality::good);
    CHECK(concern(fridge, "cold-hold").action == Action::discard);
    CHECK(verdict(fridge, "cold-hold-2h").answer == "missed");
    for (double t = 17 * 3600; t < 43 * 3600; t += 30) fridge.take(at(t), 0, 3, Quality::good);
    CHECK(verdict(fridge, "cold-hold-2h").answer == "met");  // of the last day
}

TEST_CASE("what is read once a minute, or once in five, is read without a gap") {
    for (double const every : {60.0, 61.0, 300.0}) {
        FoodLedger fridge(dish("fish", 1, 60), zero);
        fridge.stage(zero, FoodPhase::cold_holding);
        feed(fridge, Curve{{{0, 3}}}, 0, 4 * 3600, every);
        CHECK(fridge.summary().gap_s <= 4 * every);  // until it is learnt
        auto const before = fridge.summary().gap_s;
        feed(fridge, Curve{{{0, 3}}}, 4 * 3600 + every, 8 * 3600, every);
        CHECK(fridge.summary().gap_s == before);
    }
    // A probe that fails for twenty minutes again and again does not make that usual.
    FoodLedger loose(dish("fish", 1, 60), zero);
    loose.stage(zero, FoodPhase::cold_holding);
    feed(loose, Curve{{{0, 3}}}, 0, 8 * 3600, 1200);
    CHECK(loose.summary().gap_s > 7 * 3600);
}

TEST_CASE("a text of another version is refused: all of it is unknown, and nothing is misread") {
    FoodLedger first(dish("fish"), zero);
    first.stage(zero, FoodPhase::cold_holding);
    feed(first, Curve{{{0, 3}}}, 0, 5 * 3600);
    Memory memory;
    first.remember(memory, "x.");
    auto const text = *memory.text("x.cores");
    for (std::string const& other : {text.substr(text.find(' ') + 1), "food-1" + text.substr(6), text + " 7",
                                     text.substr(0, text.rfind(' '))}) {
        memory.put("x.cores", other);
        FoodLedger second(dish("fish"), zero);
        second.recall(memory, "x.");
        second.advance(at(5 * 3600 + 60));
        CHECK_FALSE(second.summary().peak_core_c);
        CHECK(verdict(second, "cold-hold").answer == "unknown");
        feed(second, Curve{{{0, 3}}}, 5 * 3600 + 90, 6 * 3600);
        CHECK(verdict(second, "cold-hold").answer == "unknown");
        CHECK(verdict(second, "danger-zone").answer != "met");
    }
}
