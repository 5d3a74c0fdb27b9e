// Kitchen accidents as people told them (field cases F5, F10, F13 to F17, F22), through the ledger.
#include "tests/support/catch.hpp"
#include "tests/unit/daemon/food/ledger_bench.hpp"

using namespace ingle;
using namespace ingle::test;

// field case F5
TEST_CASE("F5: the fire went out in the night") {
    Curve const boar{{{0, 52}, {40, 58}, {70, 61}, {240, 38}}};
    FoodLedger ledger(dish("bear-boar"), zero);
    ledger.stage(zero, FoodPhase::cooking);
    feed(ledger, boar, 0, boar.end());
    auto const sum = ledger.summary();
    CHECK_THAT(*sum.peak_core_c, WithinAbs(61, 1e-9));
    // Below 60 degC: 40 + 20 min on the way up; 61 to 60 takes 170/23 min, the rest of 170 is below.
    CHECK_THAT(sum.danger_s / 60, WithinAbs(60 + 170 - 170 / 23.0, 0.01));
    CHECK(verdict(ledger, "core-target").answer == "not reached");
    CHECK(verdict(ledger, "cooling").answer == "missed");  // under 57.2 degC from 97.9 min on, 38 degC at 240
    CHECK(concern(ledger, "cooling-late").truth == Holds::yes);
    for (auto const& v : ledger.verdicts()) {
        CHECK(v.answer != "safe");
        CHECK_FALSE(v.source.empty());
    }
    CHECK_THAT(verdict(ledger, "core-target").text, INGLE_CONTAINS("freezing is not counted"));
    CHECK_THAT(verdict(ledger, "trichinella").text, INGLE_CONTAINS("refused"));
}

// field case F10
TEST_CASE("F10: the core goes on rising after the pull") {
    Curve const roast{{{0, 5}, {90, 54}, {96, 57.5}, {108, 61.8}, {120, 61}}};
    FoodLedger ledger(dish("whole-meat"), zero);
    ledger.stage(zero, FoodPhase::cooking, 54.0, 60.0);
    feed(ledger, roast, 0, 90 * 60);
    CHECK(concern(ledger, "core-target").truth == Holds::yes);
    // The plan's 54 degC is not what the source asks for, and the notice says so.
    CHECK_THAT(concern(ledger, "core-target").text, INGLE_CONTAINS("not yet 62.8 degC"));
    CHECK(concern(ledger, "overshoot-risk").truth == Holds::no);
    feed(ledger, roast, 90 * 60 + 30, 102 * 60);
    CHECK(concern(ledger, "overshoot-risk").truth == Holds::yes);
    ledger.stage(at(102 * 60), FoodPhase::resting);
    feed(ledger, roast, 102 * 60 + 30, roast.end());
    CHECK_THAT(*ledger.summary().peak_core_c, WithinAbs(61.8, 1e-9));
    // Carry-over counts: from 61.8 degC on, 1 K/min * D(61.8) ... more than before the pull in any case.
    CHECK(*ledger.lethality_log10() > 6.5);
}

// field case F13
TEST_CASE("F13: fridge air and brine are told apart") {
    SECTION("door ajar: the air is warm, the brine hardly moves") {
        FoodLedger ledger(dish("fish"), zero);
        ledger.stage(zero, FoodPhase::brining);
        Curve const brine{{{0, 3.4}, {180, 4.6}}}, air{{{0, 3}, {20, 11}, {180, 11}}};
        auto const run = [&](double from, double to) {
            for (double t = from; t < to; t += 30) {
                ledger.medium(at(t), air(t), Quality::good);
                ledger.take(at(t), 0, brine(t), Quality::good);
            }
        };
        run(0, 150 * 60);
        CHECK(concern(ledger, "cold-hold").truth == Holds::no);  // 4.4 degC in the brine
        run(150 * 60, 180 * 60);
        ledger.advance(at(180 * 60 + CoreEvidence::hold_s));
        auto const warm = concern(ledger, "cold-hold");  // over 4.44 degC since minute 156.7
        CHECK(warm.truth == Holds::yes);
        CHECK_THAT(warm.text, INGLE_CONTAINS("Core 4.6 degC"));
        CHECK_THAT(warm.text, INGLE_CONTAINS("Around it 11.0 degC"));
        CHECK(verdict(ledger, "cold-hold").answer == "missed");
        CHECK_THAT(verdict(ledger, "cold-hold").text, INGLE_CONTAINS("measured 23 min"));
    }
    SECTION("warm brine set in: judged by the time it takes to be cold") {
        FoodLedger ledger(dish("fish"), zero);
        ledger.stage(zero, FoodPhase::brining);
        Curve const brine{{{0, 30}, {14 * 60, 4}}};
        feed(ledger, brine, 0, 3.9 * 3600);
        CHECK(concern(ledger, "cold-hold").truth == Holds::no);
        feed(ledger, brine, 3.9 * 3600 + 30, 4.1 * 3600);
        CHECK(concern(ledger, "cold-hold").truth == Holds::yes);  // FDA Food Code 3-501.14(B): 4 h
        CHECK_THAT(concern(ledger, "cold-hold").text, INGLE_CONTAINS("3-501.14(B)"));
        feed(ledger, brine, 4.1 * 3600 + 30, 14 * 3600);
        CHECK(concern(ledger, "cold-hold").truth == Holds::no);
        // 30 to 4.44 degC: 25.556/26 of 14 h.
        CHECK_THAT(verdict(ledger, "cold-hold").text, INGLE_CONTAINS("measured 13 h 46 min"));
    }
}

// field case F14
TEST_CASE("F14: the big pot is told late within half an hour, then missed, and both are in the verdict") {
    Curve const pot{{{0, 90}, {60, 68}, {120, 57}, {180, 48}, {240, 41}, {360, 31}, {540, 20}, {720, 13}}};
    FoodLedger ledger(dish("stock"), zero);
    ledger.stage(zero, FoodPhase::chilling);
    feed(ledger, pot, 0, 118 * 60);
    CHECK(concern(ledger, "cooling-late").truth == Holds::no);
    CHECK_FALSE(ledger.cooling_forecast());
    feed(ledger, pot, 118 * 60 + 30, 150 * 60);
    auto const early = concern(ledger, "cooling-late");
    CHECK(early.truth == Holds::yes);
    CHECK_THAT(early.order, INGLE_CONTAINS("ice bath"));
    CHECK(early.priority == Priority::medium);  // it will be missed
    CHECK_THAT(early.text, INGLE_CONTAINS("FDA Food Code 3-501.14(A)"));
    auto const ahead = *ledger.cooling_forecast();
    // Truly 521.82 - 150 = 371.8 min.
    REQUIRE(ahead.eta_s);
    CHECK_THAT(*ahead.eta_s / 60, WithinRel(371.8, 0.1));
    CHECK(*ahead.low_s < 371.8 * 60);
    CHECK(*ahead.high_s > 371.8 * 60);
    CHECK(verdict(ledger, "cooling").answer == "unknown");
    feed(ledger, pot, 150 * 60 + 30, 238 * 60);
    CHECK(concern(ledger, "cooling-late").priority == Priority::medium);
    feed(ledger, pot, 238 * 60 + 30, 240 * 60);  // 118.79 + 120 min
    CHECK(concern(ledger, "cooling-late").priority == Priority::high);
    CHECK(verdict(ledger, "cooling").answer == "missed");
    feed(ledger, pot, 240 * 60 + 30, pot.end());
    CHECK_THAT(verdict(ledger, "cooling").text, INGLE_CONTAINS("took 6 h 43 min"));
    CHECK_THAT(verdict(ledger, "growth").text, INGLE_CONTAINS("A warning, not a verdict"));
    CHECK(ledger.summary().cooling == CoolingAnswer::missed);
}

// field case F15
TEST_CASE("F15: a hot pot in the fridge is a cooling that misses, not a danger-zone alarm as well") {
    Curve const pot{{{0, 85}, {120, 60}, {16 * 60, 4}}};
    FoodLedger ledger(dish("stock"), zero);
    ledger.stage(zero, FoodPhase::cold_holding);
    feed(ledger, pot, 0, 8 * 3600);
    CHECK(concern(ledger, "cooling-late").truth == Holds::yes);
    CHECK(concern(ledger, "danger-zone").truth == Holds::no);
    CHECK(concern(ledger, "cold-hold").truth == Holds::no);
    feed(ledger, pot, 8 * 3600 + 30, 16 * 3600);
    CHECK(concern(ledger, "cooling-late").truth == Holds::yes);  // cold now; it was missed all the same
    CHECK(ledger.summary().cooling == CoolingAnswer::missed);
}

// field case F16
TEST_CASE("F16: power out overnight: measured and possible apart, no better verdict") {
    FoodLedger ledger(dish("fish"), zero);
    ledger.stage(zero, FoodPhase::brining);
    Curve const before{{{0, 3.4}, {70, 3.6}}}, after{{{340, 6.9}, {400, 4.0}}};
    feed(ledger, before, 0, before.end());
    auto memory = Memory();
    ledger.remember(memory, "dish.trout.food.");
    FoodLedger again(dish("fish"), at(1));
    again.recall(memory, "dish.trout.food.");
    again.advance(at(339 * 60));
    CHECK(concern(again, "cold-hold").truth == Holds::unknown);
    feed(again, after, 340 * 60, after.end());
    auto const held = verdict(again, "cold-hold");
    CHECK(held.answer == "missed");
    // 6.9 to 4.0 degC in an hour: 4.44 after 50.8 min; and 4 h 30 min in which nobody looked.
    CHECK_THAT(held.text, INGLE_CONTAINS("measured 51 min above 4.4 degC, at worst 6.9 degC"));
    CHECK_THAT(held.text, INGLE_CONTAINS("it may have been 5 h 21 min"));
    CHECK_THAT(verdict(again, "danger-zone").answer, INGLE_CONTAINS(" to "));
    CHECK(again.summary().cooling == CoolingAnswer::not_applicable);  // a fridge cooks nothing, power or not
    CHECK_THAT(again.summary().gap_s, WithinAbs(270 * 60, 1));
}

// field case F17
TEST_CASE("F17: a tripped socket, the fridge has no core probe") {
    FoodLedger ledger(dish("fish", 0), zero);
    ledger.stage(zero, FoodPhase::cold_holding);
    Curve const air{{{0, 3}, {14 * 60, 20}}};
    for (double t = 0; t <= 2 * 3600; t += 30) ledger.medium(at(t), air(t), Quality::good);
    CHECK(concern(ledger, "cold-hold").truth == Holds::yes);  // over 4.44 degC since 71 min
    for (double t = 2 * 3600; t <= 14 * 3600; t += 30) ledger.medium(at(t), air(t), Quality::good);
    CHECK_THAT(verdict(ledger, "cold-hold").text, INGLE_CONTAINS("Around the food"));
    CHECK_THAT(verdict(ledger, "cold-hold").text, INGLE_CONTAINS("at worst 20.0 degC"));
    // Nothing is known of the food itself.
    CHECK(verdict(ledger, "cooling").answer == "unknown");
    CHECK(verdict(ledger, "danger-zone").answer == "unknown");
    CHECK_FALSE(ledger.summary().lethality_log10);
}

// field case F22
TEST_CASE("F22: warm heart, cold rim: the worst core decides") {
    FoodLedger ledger(dish("leftover", 2), zero);
    ledger.stage(zero, FoodPhase::chilling);
    Curve const rim{{{0, 80}, {60, 30}, {110, 20}, {300, 4.5}}},
        heart{{{0, 80}, {60, 60}, {110, 50}, {300, 16}}};
    for (double t = 0; t <= rim.end(); t += 30) {
        ledger.take(at(t), 0, rim(t), Quality::good);
        ledger.take(at(t), 1, heart(t), Quality::good);
    }
    ledger.advance(at(rim.end() + CoreEvidence::hold_s));
    CHECK(ledger.summary().cooling == CoolingAnswer::missed);
    CHECK_THAT(*ledger.summary().core_c, WithinAbs(16, 0.1));
    FoodLedger one(dish("leftover", 2), zero);  // the second core is silent: nothing is met
    feed(one, Curve{{{0, 80}, {30, 50}, {60, 15}, {90, 3}}}, 0, 90 * 60);
    CHECK(one.summary().cooling == CoolingAnswer::unknown);
    CHECK_FALSE(one.summary().target_met);
}
