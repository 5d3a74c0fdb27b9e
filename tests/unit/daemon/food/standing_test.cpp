// What a rule stands for: its class, its condition, its edition, and what ends a stage by it.
#include "daemon/food/lethality.hpp"
#include "tests/support/catch.hpp"
#include "tests/unit/daemon/food/ledger_bench.hpp"

using namespace ingle;
using namespace ingle::test;

// FSIS Notice 66-22 and 86 FR 71007: the 1999 texts no longer serve by themselves since 14 December 2022.
TEST_CASE("an option of cooling holds under its condition only, and says what replaced it") {
    Curve const slow{{{0, 76}, {20, 54.4}, {260, 26.6}, {700, 7}}};  // option 3: 5 h and 10 h
    auto const cooled = [&](char const* food) {
        auto settings = dish(food);
        settings.dish.cooling_rule = "fsis-3";
        FoodLedger ledger(settings, zero);
        ledger.stage(zero, FoodPhase::cooking);
        feed(ledger, slow, 0, 600);
        ledger.stage(at(601), FoodPhase::chilling);
        feed(ledger, slow, 630, slow.end());
        return verdict(ledger, "cooling");
    };
    CHECK(cooled("cured-ham").answer == "met");
    CHECK_THAT(cooled("cured-ham").text, INGLE_CONTAINS("14 December 2022") && INGLE_CONTAINS("66-22") &&
                                             INGLE_CONTAINS("86 FR 71007"));
    for (auto const* food : {"whole-poultry", "stock", "whole-meat", ""}) {
        CHECK(cooled(food).answer == "missed");
        CHECK_THAT(cooled(food).text, INGLE_CONTAINS("only for food cured with nitrite"));
        CHECK_THAT(cooled(food).source, INGLE_CONTAINS("3-501.14"));
    }
    auto settings = dish("whole-meat");
    settings.dish.cooling_rule = "fsis-2";
    FoodLedger stays(settings, zero);  // at 54 degF for three days
    stays.stage(zero, FoodPhase::cold_holding);
    feed(stays, Curve{{{0, 76}, {30, 49}, {85, 26}, {300, 12.2}, {4700, 12.2}}}, 0, 4700 * 60, 60);
    CHECK(verdict(stays, "cooling").answer != "met");
    CHECK(concern(stays, "danger-zone").action == Action::discard);
}

TEST_CASE("a dish of no class is perishable until told otherwise") {
    Curve const slow{{{0, 65.6}, {600, 24}}};  // 150 to 75 degF in 10 h
    FoodLedger unnamed(dish(""), zero);
    unnamed.stage(zero, FoodPhase::cooking);
    feed(unnamed, slow, 0, slow.end());
    CHECK(concern(unnamed, "cooling-late").truth == Holds::yes);
    CHECK(concern(unnamed, "cooling-late").action == Action::discard);
    CHECK(verdict(unnamed, "cooling").answer == "missed");
    FoodLedger bread(dish("shelf-stable"), zero);
    bread.stage(zero, FoodPhase::cooking);
    feed(bread, slow, 0, slow.end());
    for (auto const& one : bread.concerns()) CHECK(one.truth != Holds::yes);
    CHECK(verdict(bread, "cooling").answer == "not-applicable");
}

// CDC MMWR May 2024 and Food Code 3-401.11(A)(3): 165 degF for bear and boar.
TEST_CASE("bear that came to 158 degF: not reached, in each row that decides") {
    FoodLedger bear(dish("bear-boar"), zero);
    bear.stage(zero, FoodPhase::cooking);
    Curve const roast{{{0, 3}, {200, 70}, {245, 70}}};
    feed(bear, roast, 0, roast.end());
    for (auto const* rule : {"core-target", "lethality", "trichinella"})
        CHECK_THAT(verdict(bear, rule).answer, INGLE_CONTAINS("not reached"));
    CHECK_THAT(verdict(bear, "in short").answer, INGLE_CONTAINS("not reached"));
    CHECK(*bear.lethality_log10() == 0);  // ends no stage
    feed(bear, Curve{{{246, 70}, {255, 75}}}, 246 * 60, 255 * 60);
    CHECK(verdict(bear, "core-target").answer == "met");
    CHECK(verdict(bear, "trichinella").answer == "met");
    CHECK(*bear.lethality_log10() > 6.5);
    FoodLedger rare(dish("bear-boar"), zero);
    rare.stage(zero, FoodPhase::cooking, 48.9);
    feed(rare, Curve{{{0, 3}, {100, 50}}}, 0, 6000);
    CHECK_THAT(concern(rare, "core-target").text, INGLE_CONTAINS("not yet 73.9 degC"));
    CHECK_THAT(rare.class_asks_more(48.9), INGLE_CONTAINS("73.9 degC"));
}

// FSIS Revised Appendix A (2021), meat at 6.5 log10: 8 min (480 s) at 142 degF; 4 min at 145 degF.
TEST_CASE("the printed row ends a stage, and what lies between the rows is a figure") {
    auto const at_temperature = [](char const* food, double f, double seconds) {
        Lethality sum(*food_class(food));
        sum.add({0, from_fahrenheit(f), seconds, from_fahrenheit(f)});
        return sum;
    };
    CHECK(*at_temperature("whole-meat", 142, 425).computed_log10() > 6.5);  // by the log-linear line
    CHECK(*at_temperature("whole-meat", 142, 425).credited_log10() == 5);   // 6 min for 5 log10
    CHECK(*at_temperature("whole-meat", 142, 479.9).credited_log10() == 5);
    CHECK(*at_temperature("whole-meat", 142, 480).credited_log10() == 7);  // 8 min for both
    CHECK(*at_temperature("whole-meat", 158, 1).credited_log10() == 7);
    // 151 degF: 54 s for 6.5 log10, 58 s for 7.
    CHECK(*at_temperature("whole-meat", 151, 57).credited_log10() == 6.5);
    // Poultry has the one column of 7 log10: 4.9 min at 150 degF, the longer of chicken and turkey.
    CHECK(*at_temperature("ground-poultry", 150, 254).credited_log10() == 0);
    CHECK(*at_temperature("ground-poultry", 150, 294).credited_log10() == 7);
    // In the ledger: 425 s at 142 degF is no "met", and its figure is called one.
    FoodLedger roast(dish("whole-meat"), zero);
    roast.stage(zero, FoodPhase::cooking);
    double const low = from_fahrenheit(129.5), high = from_fahrenheit(142);
    Curve const curve{{{0, low}, {4, low}, {6, high}, {6 + 300.0 / 60, high}, {14, low}, {20, low}}};
    feed(roast, curve, 0, curve.end(), 5);
    CHECK(verdict(roast, "lethality").answer != "met");
    CHECK_THAT(verdict(roast, "lethality").text, INGLE_CONTAINS("As a figure only"));
    CHECK(*roast.lethality_log10() <= 5);
}

// USDA: 2 h, and 1 h above 90 degF (32.2 degC).
TEST_CASE("in a measured room above 90 degF the limit is one hour") {
    auto const table = [](double room_c) {
        FoodLedger fish(dish("fish"), zero);
        fish.stage(zero, FoodPhase::waiting);
        for (double t = 0; t <= 3700; t += 30) {
            fish.medium(at(t), room_c, Quality::good);
            fish.take(at(t), 0, 20, Quality::good);
        }
        return concern(fish, "danger-zone");
    };
    CHECK(table(31).truth == Holds::no);
    CHECK(table(33).action == Action::discard);
    CHECK_THAT(table(33).text, INGLE_CONTAINS("90 degF"));
}

// FDA Food Code 3-401.13: plants cooked to be held hot, 135 degF.
TEST_CASE("vegetables that are kept hot are asked for 135 degF, others for nothing") {
    FoodLedger raw(thin_dish("vegetable"), zero);
    raw.stage(zero, FoodPhase::cooking);
    feed(raw, Curve{{{0, 15}, {20, 50}}}, 0, 1200);
    CHECK(verdict(raw, "core-target").answer == "not-applicable");
    CHECK_THAT(verdict(raw, "core-target").text, INGLE_CONTAINS("3-401.13"));
    raw.stage(at(1201), FoodPhase::hot_holding);
    feed(raw, Curve{{{0, 50}}}, 1230, 1500);
    CHECK(verdict(raw, "core-target").answer == "not reached");
}

// FDA Food Code 3-501.14(B) is for food made up from what was at room temperature.
TEST_CASE("the 4 h of food made up warm are not cited for cooked food") {
    FoodLedger pot(dish("stock"), zero);
    pot.stage(zero, FoodPhase::cold_holding);
    feed(pot, Curve{{{0, 85}, {120, 57}, {700, 12}}}, 0, 11 * 3600);
    for (auto const& one : pot.concerns()) CHECK_THAT(one.text, !INGLE_CONTAINS("3-501.14(B)"));
}

// FDA Food Code 3-401.11(A)(2) and (A)(3): what is injected, tenderised, ground or stuffed is no whole cut.
TEST_CASE("what was done to the meat is asked of it") {
    using Words = std::vector<std::string>;
    auto const asked = [](char const* food, Words const& done) {
        return prepared(*food_class(food), done).targets.front();
    };
    CHECK(asked("whole-meat", {}).source != asked("whole-meat", {"injected"}).source);
    for (auto const* word : {"injected", "tenderised"}) {
        CHECK(asked("whole-meat", {word}).fahrenheit == 145);
        CHECK(asked("cured-ham", {word}).hold_s == 180);
        CHECK(prepared(*food_class("fresh-ham"), Words{word}).targets.size() == 1);  // no 130 degF for it
        CHECK(asked("venison", {word}).fahrenheit == 165);
    }
    CHECK(asked("whole-meat", {"ground"}).fahrenheit == 160);
    CHECK(asked("fish", {"stuffed"}).fahrenheit == 165);
    CHECK(asked("bear-boar", {"ground"}).fahrenheit == 165);
    CHECK(prepared(*food_class("stock"), Words{"injected"}).targets.size() ==
          food_class("stock")->targets.size());
    // And the ledger asks it: a stuffed loin at 150 degF is done as a whole cut only.
    Curve const loin{{{0, 5}, {150, 66}, {160, 66}}};
    for (bool const stuffed : {false, true}) {
        auto settings = dish("whole-meat", 2);
        if (stuffed) settings.dish.preparation = {"stuffed"};
        FoodLedger ledger(settings, zero);
        ledger.stage(zero, FoodPhase::cooking);
        for (double t = 0; t <= loin.end(); t += 30)
            for (int core : {0, 1}) ledger.take(at(t), core, loin(t), Quality::good);
        ledger.advance(at(loin.end() + 60));
        CHECK((verdict(ledger, "core-target").answer == "met") == !stuffed);
    }
}

TEST_CASE("stuffing without a tip of its own is not known to be done") {
    Curve const bird{{{0, 5}, {180, 77}, {190, 77}}};
    for (int const cores : {1, 2}) {
        auto settings = dish("whole-poultry", cores);
        settings.dish.preparation = {"stuffed"};
        FoodLedger ledger(settings, zero);
        ledger.stage(zero, FoodPhase::cooking);
        for (double t = 0; t <= bird.end(); t += 30)
            for (int core = 0; core < cores; ++core) ledger.take(at(t), core, bird(t), Quality::good);
        ledger.advance(at(bird.end() + 60));
        CHECK(verdict(ledger, "core-target").answer == (cores == 2 ? "met" : "unknown"));
        CHECK(ledger.summary().target_met == (cores == 2));
        if (cores == 1)
            CHECK_THAT(verdict(ledger, "core-target").text, INGLE_CONTAINS("stuffing itself was not read"));
    }
}

// USDA: 2 h between 40 and 140 degF. Of the air it is told as the air's.
TEST_CASE("food that is not read, in air of the danger zone for two hours: told, and not as the food's") {
    for (auto const phase : {FoodPhase::waiting, FoodPhase::chilling, FoodPhase::resting}) {
        FoodLedger ledger(dish("leftover", 0), zero);
        ledger.stage(zero, phase);
        auto const until = [&](double from, double to) {
            for (double t = from; t <= to; t += 30) ledger.medium(at(t), 21, Quality::good);
        };
        until(0, 7190);
        CHECK(concern(ledger, "danger-zone").truth == Holds::no);
        Memory memory;
        ledger.remember(memory, "d.");
        until(7200, 7260);
        auto const told = concern(ledger, "danger-zone");
        CHECK(told.truth == Holds::yes);
        CHECK_THAT(told.text,
                   INGLE_CONTAINS("The air around the food was between 4.4 degC and 60.0 degC for 2 h"));
        CHECK_THAT(told.text, INGLE_CONTAINS("The food itself was not measured"));
        CHECK(verdict(ledger, "danger-zone").answer == "unknown");
        FoodLedger again(dish("leftover", 0), zero);
        again.recall(memory, "d.");
        for (double t = 7200; t <= 7300; t += 30) again.medium(at(t), 21, Quality::good);
        CHECK(concern(again, "danger-zone").truth == Holds::yes);
    }
    // In an oven, or in a cold fridge, it is not.
    for (double const c : {180.0, 3.0, 65.0}) {
        FoodLedger ledger(dish("leftover", 0), zero);
        ledger.stage(zero, c > 100 ? FoodPhase::cooking : FoodPhase::waiting);
        for (double t = 0; t <= 4 * 3600; t += 30) ledger.medium(at(t), c, Quality::good);
        CHECK(concern(ledger, "danger-zone").truth == Holds::no);
    }
}

TEST_CASE(
    "what took long to be heated through and then falls is told by its cooling, not as never heated "
    "through") {
    FoodLedger boar(dish("bear-boar"), zero);
    boar.stage(zero, FoodPhase::cooking);
    Curve const smoked{{{0, 3}, {270, 62}, {400, 85}, {520, 85}, {620, 59}, {760, 48}}};
    bool told_raw = false, told_cooling = false;
    for (double t = 0; t <= smoked.end(); t += 60) {
        feed(boar, smoked, t, t, 60);
        auto const danger = concern(boar, "danger-zone");
        told_raw = told_raw || danger.text.find("without having been heated through") != std::string::npos;
        told_cooling = told_cooling || concern(boar, "cooling-late").truth == Holds::yes;
    }
    CHECK_FALSE(told_raw);
    CHECK(told_cooling);
    FoodLedger raw(dish("bear-boar"), zero);
    raw.stage(zero, FoodPhase::cooking);
    Curve const fire_out{{{0, 3}, {270, 52}, {400, 52}, {460, 40}}};
    feed(raw, fire_out, 0, fire_out.end(), 60);
    CHECK_THAT(concern(raw, "danger-zone").text, INGLE_CONTAINS("without having been heated through"));
}
