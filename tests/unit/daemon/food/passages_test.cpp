// The last passage is judged: cooling that was undone, food that was heated again, and the time between.
#include "tests/support/catch.hpp"
#include "tests/unit/daemon/food/ledger_bench.hpp"

using namespace ingle;
using namespace ingle::test;

namespace {

Curve fahrenheit_curve(std::vector<std::pair<double, double>> points) {
    for (auto& point : points) point.second = from_fahrenheit(point.second);
    return {std::move(points)};
}

// Minutes 0 to 10 at 170 degF, then as the curve says; cooked in its first stage, chilled in the second.
void cook_and_chill(FoodLedger& ledger, Curve const& curve, double chill_min, double every = 60) {
    ledger.stage(zero, FoodPhase::cooking);
    feed(ledger, curve, 0, chill_min * 60, every);
    ledger.stage(at(chill_min * 60 + 1), FoodPhase::chilling);
    feed(ledger, curve, chill_min * 60 + every, curve.end(), every);
}

}  // namespace

// FDA Food Code 3-501.14(A), and the USDA's 2 h between 40 and 140 degF.
TEST_CASE("warm cycles are no cooling: their time counts, and raises the danger zone") {
    std::vector<std::pair<double, double>> points{{0, 160}};
    double m = 20;
    for (int cycle = 0; cycle < 6; ++cycle) {
        points.push_back({m, 150});
        points.push_back({m + 100, 80});  // within the 2 h of the rule, and not at 70 degF
        m += 140;
    }
    points.insert(points.end(), {{m, 150}, {m + 20, 135}, {m + 100, 70}, {m + 280, 40}, {m + 340, 38}});
    auto const curve = fahrenheit_curve(points);
    for (double const every : {1.0, 10.0, 60.0, 300.0}) {
        FoodLedger pot(dish("stock", 1, std::max(60.0, 3 * every)), zero);
        pot.stage(zero, FoodPhase::cooking);
        feed(pot, curve, 0, 310 * 60, every);  // the second one is over
        CHECK(concern(pot, "danger-zone").truth == Holds::yes);
        CHECK(concern(pot, "danger-zone").action == Action::discard);
        feed(pot, curve, 310 * 60 + every, curve.end(), every);
        CHECK(pot.summary().cooling == CoolingAnswer::missed);
        CHECK_THAT(verdict(pot, "danger-zone").answer, INGLE_CONTAINS("missed"));
        CHECK(verdict(pot, "in short").answer != "no limit passed");
    }
    // Heated through to 165 degF in between, within 4 h (3-501.19(B)), it begins anew.
    FoodLedger through(dish("stock"), zero);
    cook_and_chill(
        through,
        fahrenheit_curve(
            {{0, 170}, {20, 135}, {80, 90}, {110, 170}, {130, 135}, {230, 70}, {400, 40}, {470, 38}}),
        115);
    CHECK(through.summary().cooling == CoolingAnswer::met);
}

TEST_CASE("a limit that was passed opens again when the core rises over it") {
    // Lifted into the fridge's air at 100 degF, then put back to where the food is 95 degF.
    auto const lifted = fahrenheit_curve(
        {{0, 170}, {15, 135}, {50, 100}, {51, 38}, {61, 38}, {62, 95}, {100, 85}, {180, 75}});
    FoodLedger pot(dish("stock"), zero);
    cook_and_chill(pot, lifted, 10);
    CHECK(pot.summary().cooling == CoolingAnswer::missed);  // 2 h 45 min and 75 degF
    // The same seen for longer than an hour in the cold: only a moved tip rises so fast there.
    auto const moved =
        fahrenheit_curve({{0, 170}, {15, 135}, {75, 69}, {180, 40}, {260, 38}, {261, 90}, {300, 80}});
    FoodLedger later(dish("stock"), zero);
    cook_and_chill(later, moved, 10);
    CHECK(later.summary().cooling == CoolingAnswer::unknown);  // what was read before was not the centre
    // Warmed slowly for real, and cold again: the time above 41 degF counts with that of the cooling.
    auto const warmed = [](double minutes) {
        FoodLedger food(dish("stock"), zero);
        cook_and_chill(food,
                       fahrenheit_curve({{0, 170},
                                         {15, 135},
                                         {75, 69},
                                         {315, 40},
                                         {400, 38},
                                         {420, 55},
                                         {420 + minutes, 55},
                                         {440 + minutes, 38},
                                         {500 + minutes, 38}}),
                       10);
        return food.summary().cooling;
    };
    CHECK(warmed(5) == CoolingAnswer::met);      // 5 h and half an hour
    CHECK(warmed(60) == CoolingAnswer::missed);  // over 6 h in all
    // What is within a probe's noise opens nothing.
    FoodLedger noisy(dish("stock"), zero);
    cook_and_chill(
        noisy, fahrenheit_curve({{0, 170}, {15, 135}, {75, 69}, {76, 71}, {77, 69}, {300, 40}, {400, 38}}),
        10);
    CHECK(noisy.summary().cooling == CoolingAnswer::met);
}

// 16 Del. Admin. Code 3-403.11 (A) and (D): 165 degF for 15 s, within 2 h from 41 degF on.
TEST_CASE("a reheating is a passage of its own, with its own peak and its own time") {
    auto const again = [](double to_f, double minutes) {
        FoodLedger food(thin_dish("leftover"), zero);
        auto const curve = fahrenheit_curve({{0, 40},
                                             {90, 170},
                                             {110, 135},
                                             {180, 69},
                                             {380, 40},
                                             {460, 38},
                                             {465, 41},
                                             {465 + minutes, to_f},
                                             {467 + minutes, to_f}});
        food.stage(zero, FoodPhase::cooking);
        feed(food, curve, 0, 100 * 60);
        food.stage(at(100 * 60 + 1), FoodPhase::chilling);
        feed(food, curve, 100 * 60 + 30, 460 * 60);
        food.stage(at(460 * 60 + 1), FoodPhase::cooking);
        feed(food, curve, 460 * 60 + 30, curve.end());
        return food;
    };
    auto const low = again(138, 60);
    CHECK(verdict(low, "core-target").answer != "met");
    CHECK_THAT(verdict(low, "core-target").text, INGLE_CONTAINS("up to 58.9 degC"));
    CHECK(verdict(low, "reheating").answer == "not reached so far");
    CHECK(concern(low, "core-target").truth == Holds::no);
    CHECK_FALSE(low.summary().target_met);
    CHECK_THAT(verdict(low, "in short").text, INGLE_CONTAINS("not"));

    CHECK(verdict(again(166, 119), "reheating").answer == "met");
    CHECK(concern(again(166, 119), "core-target").truth == Holds::yes);
    auto const slow = again(166, 125);  // 41 to 165 degF takes 124 min
    CHECK(verdict(slow, "reheating").answer == "missed");
    CHECK(concern(slow, "reheat-late").priority == Priority::high);
    CHECK(concern(slow, "reheat-late").action == Action::discard);
    auto const late = again(120, 110);  // will not be there in time
    CHECK(concern(late, "reheat-late").priority == Priority::medium);
    CHECK(concern(late, "reheat-late").action == Action::reheat);
    CHECK(verdict(again(164, 60), "reheating").answer == "not reached so far");
}

TEST_CASE("kept at 120 degF: 165 degF within 2 h, or thrown away, and never only warmed again") {
    FoodLedger box(dish("stuffed"), zero);
    box.stage(zero, FoodPhase::hot_holding);
    auto const curve = fahrenheit_curve({{0, 150}, {10, 120}, {220, 120}, {260, 150}, {300, 150}});
    feed(box, curve, 0, 60 * 60);
    CHECK(concern(box, "hot-hold").action == Action::reheat);
    CHECK_THAT(concern(box, "hot-hold").order, INGLE_CONTAINS("73.9 degC") && INGLE_CONTAINS("2 h"));
    feed(box, curve, 60 * 60 + 30, 200 * 60);
    CHECK(concern(box, "hot-hold").action == Action::discard);
    CHECK(concern(box, "danger-zone").action == Action::discard);
    feed(box, curve, 200 * 60 + 30, curve.end());
    CHECK(concern(box, "danger-zone").action == Action::discard);  // warm again is not good again
    CHECK(verdict(box, "reheating").answer != "met");
}

TEST_CASE("what is chilled by the book is never told to be heated") {
    for (auto const* rule : {"food-code", "fsis-1", "fsis-2"}) {
        auto settings = dish("whole-meat");
        settings.dish.cooling_rule = rule;
        FoodLedger roast(settings, zero);
        roast.stage(zero, FoodPhase::cooking);  // nobody told it to go on
        auto const curve =
            fahrenheit_curve({{0, 40}, {120, 150}, {150, 130}, {205, 79}, {400, 40}, {600, 38}});
        for (double t = 0; t <= curve.end(); t += 30) {
            roast.take(at(t), 0, curve(t), Quality::good);
            if (t > 120 * 60) CHECK(concern(roast, "danger-zone").action != Action::raise_heat);
        }
    }
}

TEST_CASE("the miss that is named is the one that happened") {
    FoodLedger pot(dish("stock"), zero);
    cook_and_chill(pot, fahrenheit_curve({{0, 170}, {20, 135}, {170, 70}, {240, 60}}), 10);
    auto const told = concern(pot, "cooling-late");
    CHECK_THAT(told.text, INGLE_CONTAINS("took 2 h 30 min from 57.2 degC to 21.1 degC"));
    CHECK(told.action == Action::discard);
}

TEST_CASE("warmed again, food is not called done by what it once came to") {
    auto const curve = fahrenheit_curve({{0, 60}, {60, 170}, {70, 170}, {100, 120}, {130, 140}, {150, 140}});
    FoodLedger game(thin_dish("venison"), zero);
    game.stage(zero, FoodPhase::cooking);
    feed(game, curve, 0, 75 * 60, 10);
    CHECK(concern(game, "core-target").truth == Holds::yes);
    game.stage(at(75 * 60 + 1), FoodPhase::resting);
    feed(game, curve, 75 * 60 + 10, 105 * 60, 10);
    CHECK(concern(game, "core-target").truth != Holds::yes);
    game.stage(at(105 * 60 + 1), FoodPhase::cooking);
    feed(game, curve, 105 * 60 + 10, curve.end(), 10);
    CHECK(concern(game, "core-target").truth != Holds::yes);
}

TEST_CASE("what comes down at the very limit is not told as missed, nor as too warm for its holding") {
    // Exactly 2 h from 135 to 70 degF, and exactly 6 h to 41 degF; readings are certain half a minute later.
    Curve const exactly{{{0, 65.6},
                         {10, from_fahrenheit(135)},
                         {130, from_fahrenheit(70)},
                         {370, from_fahrenheit(41)},
                         {420, 4.8}}};
    FoodLedger soup(dish("stock"), zero);
    soup.stage(zero, FoodPhase::chilling);
    for (double t = 0; t <= exactly.end(); t += 60) {
        soup.take(at(t), 0, exactly(t), Quality::good);
        for (double after = 0; after < 60; after += 10) {
            soup.advance(at(t + after));
            CHECK(concern(soup, "cooling-late").priority != Priority::high);
            CHECK(concern(soup, "cold-hold").truth != Holds::yes);
        }
    }
    CHECK(verdict(soup, "cooling").answer == "met");
}
