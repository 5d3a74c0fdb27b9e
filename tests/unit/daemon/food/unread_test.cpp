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

TEST_CASE("two readings that failed at the begin are not read, at a slow rhythm too") {
    FoodLedger slow(dish("venison", 1, 900), zero);
    slow.stage(zero, FoodPhase::chilling);
    Curve const cooled{{{0, 6.7}, {60, 4}}};  // what it was in the first quarter of an hour, nobody read
    feed(slow, cooled, 891, 3600, 300);
    CHECK(verdict(slow, "cooling").answer == "unknown");
    FoodLedger at_once(dish("venison", 1, 900), zero);
    at_once.stage(zero, FoodPhase::chilling);
    feed(at_once, cooled, 300, 3600, 300);
    CHECK(verdict(at_once, "cooling").answer == "not-applicable");
}

TEST_CASE("what the logbook keeps of a limit is at the limit") {
    // 160 degF is 71.1111 degC and is kept as 71.111.
    FoodLedger patty(thin_dish("ground-meat"), zero);
    patty.stage(zero, FoodPhase::cooking);
    Curve const exactly{{{0, 5}, {60, 71.111}, {62, 71.111}}};
    feed(patty, exactly, 0, exactly.end());
    CHECK(verdict(patty, "core-target").answer == "met");
}

TEST_CASE("a cooling that was passed may have been undone while nothing was read") {
    auto const judged = [](double hole_min) {
        FoodLedger ledger(dish("stock"), zero);
        ledger.stage(zero, FoodPhase::chilling);
        Curve const curve{{{0, 70}, {20, 57}, {90, 20}, {150, 8}, {240, 4}, {600, 4}}};
        feed(ledger, curve, 0, 150 * 60);
        feed(ledger, curve, (150 + hole_min) * 60, curve.end());
        return verdict(ledger, "cooling").answer;
    };
    CHECK(judged(20) == "met");
    CHECK(judged(60) == "unknown");  // above 21 degC again, later than 2 h after it fell through 57
}

TEST_CASE("food that is hot again is not said never to have cooled") {
    FoodLedger soup(dish("stock"), zero);
    soup.stage(zero, FoodPhase::cooking);
    Curve const twice{{{0, 80}, {30, 60}, {120, 20}, {240, 4}, {300, 4}, {390, 75}, {400, 75}}};
    feed(soup, twice, 0, twice.end());
    auto const found = verdict(soup, "cooling");
    CHECK(found.answer == "not-applicable");
    CHECK_THAT(found.text, INGLE_CONTAINS("is above that again"));
}

TEST_CASE("what is above its target from the begin of the heat on was not seen to be the core") {
    FoodLedger bird(dish("whole-poultry"), zero);
    bird.stage(zero, FoodPhase::cooking);
    feed(bird, {{{0, 88}, {16, 88}}}, 0, 16 * 60);
    CHECK(bird.summary().danger_s == 0);
    CHECK(bird.summary().danger_possible_s >= 16 * 60);
    FoodLedger hot(dish("whole-poultry"), zero);  // comes hot to be chilled
    hot.stage(zero, FoodPhase::chilling);
    feed(hot, {{{0, 88}, {16, 80}}}, 0, 16 * 60);
    CHECK(hot.summary().danger_possible_s == 0);
}

TEST_CASE("food that falls after 4 h without being done is thrown away, not heated or chilled") {
    FoodLedger fish(thin_dish("fish"), zero);
    fish.stage(zero, FoodPhase::cooking);
    Curve const left{{{0, 5}, {60, 54}, {180, 50}, {420, 40}}};
    feed(fish, left, 0, left.end());
    auto const told = concern(fish, "danger-zone");
    CHECK(told.truth == Holds::yes);
    CHECK(told.action == Action::discard);
    CHECK_THAT(told.order, INGLE_CONTAINS("hrow it away"));
}

TEST_CASE("cold for half an hour and then not read: the sentence says why it is not known any more") {
    FoodLedger pot(dish("stock"), zero);
    pot.stage(zero, FoodPhase::cooking);
    feed(pot, Curve{{{0, 5}, {100, 90}}}, 0, 100 * 60);
    pot.stage(at(100 * 60), FoodPhase::chilling);
    feed(pot, Curve{{{100, 90}, {130, 56}, {200, 20}, {300, 4}, {330, 4}}}, 100 * 60 + 30, 330 * 60);
    CHECK(verdict(pot, "cooling").answer == "met");
    pot.advance(at(360 * 60));
    CHECK(verdict(pot, "cooling").answer == "met");
    pot.advance(at(362 * 60));
    CHECK(verdict(pot, "cooling").answer == "unknown");
    CHECK_THAT(verdict(pot, "cooling").text, INGLE_CONTAINS("not been read for"));
}

TEST_CASE("a newest reading that is not certain yet is in the zone, and begins a fall, all the same") {
    FoodLedger pot(dish("stock", 1, 900), zero);
    pot.stage(zero, FoodPhase::cooking);
    for (double t = 0; t <= 6000; t += 300) pot.take(at(t), 0, 61 + t / 3000, Quality::good);
    pot.stage(at(6010), FoodPhase::resting);
    pot.take(at(6300), 0, 62, Quality::good);
    pot.take(at(6600), 0, 56, Quality::good);
    pot.advance(at(6610));
    CHECK(verdict(pot, "cooling").answer == "unknown");
    CHECK_THAT(verdict(pot, "cooling").text, INGLE_CONTAINS("just falling through 57.2 degC"));
    CHECK(verdict(pot, "danger-zone").answer == "0 s to 5 min");
}

TEST_CASE("one reading alone after a hole makes nothing better, until the next one bears it out") {
    auto const chilled = [](std::vector<double> const& after) {
        FoodLedger roast(thin_dish("whole-meat"), zero);
        roast.stage(zero, FoodPhase::chilling);
        feed(roast, Curve{{{0, 62}, {20, 52}}}, 0, 20 * 60);
        double t = 65 * 60;
        for (double const c : after) {
            roast.take(at(t), 0, c, Quality::good);
            roast.advance(at(t + 50));
            t += 60;
        }
        return verdict(roast, "cooling");
    };
    CHECK(chilled({-6}).answer == "unknown");
    CHECK(chilled({-6, 15}).answer == "unknown");  // it was wild
    CHECK_THAT(chilled({4, 3.9}).text, INGLE_CONTAINS("To 5.0 degC: took"));
    CHECK(chilled({4, 3.9}).answer == "met");
}

TEST_CASE("a fall that may prove to be a moved tip has not not begun") {
    FoodLedger pot(dish("vegetable", 1, 900), zero);
    pot.stage(zero, FoodPhase::resting);
    for (double t = 0; t <= 2400; t += 300) pot.take(at(t), 0, 68 - t / 3000, Quality::good);
    pot.advance(at(2410));
    CHECK(verdict(pot, "cooling").answer == "not-applicable");
    pot.take(at(2700), 0, 41, Quality::good);
    pot.advance(at(2710));
    CHECK(verdict(pot, "cooling").answer == "unknown");
}

TEST_CASE("what was hot from its first reading on, in the heat, may have been in the danger zone all along") {
    auto settings = dish("vegetable");
    settings.dish.thickness = Length{0.05};
    FoodLedger pot(settings, zero);
    pot.stage(zero, FoodPhase::cooking);
    feed(pot, Curve{{{0, 81}}}, 0, 600);
    CHECK(verdict(pot, "danger-zone").answer == "0 s to 11 min");
    // A liquid is what its tip lies in.
    FoodLedger stock(dish("stock"), zero);
    stock.stage(zero, FoodPhase::cooking);
    feed(stock, Curve{{{0, 62}}}, 0, 600);
    CHECK(verdict(stock, "danger-zone").answer == "0 s");
}

TEST_CASE("food that was to be heated and was in the danger zone for more than 4 h is a no in one sentence") {
    auto const warm = [](double hours) {
        FoodLedger bird(thin_dish("whole-poultry"), zero);
        bird.stage(zero, FoodPhase::cooking);
        feed(bird, Curve{{{0, 3}, {30, 8}, {300, 12}, {600, 5}}}, 0, hours * 3600);
        return bird;
    };
    auto const before = warm(4);
    CHECK(!verdict(before, "danger-zone").answer.starts_with("missed"));
    auto const after = warm(4.5);
    CHECK(verdict(after, "danger-zone").answer.starts_with("missed"));
    CHECK_THAT(verdict(after, "in short").text, INGLE_CONTAINS("in the danger zone for too long"));
    CHECK_THAT(verdict(warm(9), "danger-zone").text, !INGLE_CONTAINS("While being heated"));
}

TEST_CASE("what fell from above its target is worth nothing, and its come-up was not seen") {
    FoodLedger bird(thin_dish("whole-poultry"), zero);
    bird.stage(zero, FoodPhase::cooking);
    Curve const falls{{{0, 75}, {60, 40}, {90, 40}, {180, 76}, {200, 76}}};
    feed(bird, falls, 0, 4000);
    CHECK(verdict(bird, "core-target").answer == "unknown");
    CHECK(verdict(bird, "lethality").answer == "unknown");
    CHECK_THAT(verdict(bird, "lethality").text,
               INGLE_CONTAINS("come-up was not seen") && !INGLE_CONTAINS("within the 6 h"));
    feed(bird, falls, 4030, falls.end());
    CHECK(verdict(bird, "lethality").answer == "met");  // what it rose to again was seen
}

TEST_CASE("in one sentence: what is not known, and what was not reached so far") {
    auto settings = dish("whole-poultry");
    settings.dish.thickness = Length{0.06};
    FoodLedger bird(settings, zero);
    bird.stage(zero, FoodPhase::cooking);
    Curve const rises{{{0, 4}, {40, 58}, {90, 66}}};
    feed(bird, rises, 0, 34 * 60);
    feed(bird, rises, 36.5 * 60, 90 * 60);
    auto const all = verdict(bird, "in short");
    CHECK(all.answer == "unknown");
    CHECK_THAT(all.text, INGLE_CONTAINS("Not known") && INGLE_CONTAINS("So far the core did not reach"));
}

TEST_CASE("a holding that began on the way down from its cooling says since when it is measured") {
    FoodLedger roast(thin_dish("whole-meat"), zero);
    roast.stage(zero, FoodPhase::chilling);
    Curve const cools{{{0, 60}, {60, 20}, {180, 4.8}, {200, 3.5}, {300, 3.5}}};
    feed(roast, cools, 0, 180 * 60);
    roast.stage(at(180 * 60 + 30), FoodPhase::cold_holding);
    feed(roast, cools, 180 * 60 + 60, cools.end());
    CHECK(verdict(roast, "cold-hold").answer == "met");
    CHECK_THAT(verdict(roast, "cold-hold").text,
               INGLE_CONTAINS("since it had come down to that, from 4.8 degC"));
    CHECK_THAT(verdict(roast, "cold-hold-2h").text, INGLE_CONTAINS("does not count"));
}
