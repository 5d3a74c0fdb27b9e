// Which core of a dish decides, what its class asks beyond the plan, and what the newest reading is taken
// for.
#include <cmath>
#include <tuple>

#include "tests/support/catch.hpp"
#include "tests/unit/daemon/food/ledger_bench.hpp"

using namespace ingle;
using namespace ingle::test;

namespace {

FoodLedger two(std::string food, FoodPhase phase, Curve const& one, Curve const& other,
               std::optional<double> limit_c = {}) {
    auto settings = dish(std::move(food), 2);
    settings.dish.thickness = Length{0.03};  // straight lines are a thin core's only
    FoodLedger ledger(settings, zero);
    ledger.stage(at(0), phase, {}, limit_c);
    for (double t = 0; t <= one.end(); t += 30) {
        ledger.take(at(t), 0, one(t), Quality::good);
        ledger.take(at(t), 1, other(t), Quality::good);
    }
    ledger.advance(at(one.end() + CoreEvidence::hold_s));
    return ledger;
}

}  // namespace

TEST_CASE("the coldest core decides while it is heated or rests, the warmest otherwise") {
    Curve const cold{{{0, 10}, {60, 11}}}, warm{{{0, 20}, {60, 21}}};
    for (auto const phase :
         {FoodPhase::cooking, FoodPhase::reheating, FoodPhase::hot_holding, FoodPhase::resting})
        CHECK_THAT(*two("stock", phase, cold, warm).summary().core_c, WithinAbs(11, 0.1));
    for (auto const phase : {FoodPhase::chilling, FoodPhase::cold_holding, FoodPhase::brining,
                             FoodPhase::thawing, FoodPhase::waiting})
        CHECK_THAT(*two("stock", phase, cold, warm).summary().core_c, WithinAbs(21, 0.1));
}

TEST_CASE("of two cores the one that is behind is told: reheating, danger zone, overshoot") {
    Curve const slow{{{0, 4}, {60, 40}}}, quick{{{0, 4}, {60, 60}}};
    for (bool const first : {false, true}) {
        auto const again = two("leftover", FoodPhase::reheating, first ? slow : quick, first ? quick : slow);
        CHECK_THAT(verdict(again, "reheating").text, INGLE_CONTAINS("up to 40.0 degC"));
        auto const later = two("leftover", FoodPhase::reheating,
                               first ? Curve{{{0, 4}, {75, 40}}} : Curve{{{0, 4}, {75, 60}}},
                               first ? Curve{{{0, 4}, {75, 60}}} : Curve{{{0, 4}, {75, 40}}});
        CHECK_THAT(concern(later, "reheat-late").text, INGLE_CONTAINS("Core 40.0 degC"));
        Curve const in{{{0, 30}, {60, 30}}}, out{{{0, 2}, {60, 2}}};
        auto const zone = two("stock", FoodPhase::waiting, first ? in : out, first ? out : in);
        CHECK(verdict(zone, "danger-zone").answer == "1 h");
        auto const over = two("whole-meat", FoodPhase::cooking,
                              first ? Curve{{{0, 50}, {18, 68}}} : Curve{{{0, 50}, {18, 52}}},
                              first ? Curve{{{0, 50}, {18, 52}}} : Curve{{{0, 50}, {18, 68}}}, 70);
        CHECK_THAT(concern(over, "overshoot-risk").text,
                   INGLE_CONTAINS("Core 68.0 degC, rising 1.0 degC a minute") && INGLE_CONTAINS("in 2 min"));
    }
}

TEST_CASE("what a class asks beyond the plan's own target, with its hold and source") {
    FoodLedger bird(dish("whole-poultry"), zero);
    CHECK_THAT(bird.class_asks_more(60),
               INGLE_CONTAINS("not yet 73.9 degC for 15 s") && INGLE_CONTAINS("3-401.11"));
    CHECK_THAT(bird.class_asks_more(from_fahrenheit(165)), INGLE_CONTAINS("73.9 degC is asked for 15 s"));
    FoodLedger patty(dish("ground-meat"), zero);
    CHECK_THAT(patty.class_asks_more(60), INGLE_CONTAINS("not yet 71.1 degC ("));
    CHECK(patty.class_asks_more(from_fahrenheit(160)).empty());
    CHECK(FoodLedger(dish("shelf-stable"), zero).class_asks_more(20).empty());
    auto const text =
        verdict(two("whole-meat", FoodPhase::cooking, Curve{{{0, 5}, {60, 20}}}, Curve{{{0, 5}, {60, 20}}}),
                "core-target")
            .text;
    CHECK_THAT(text, INGLE_CONTAINS("Other sources: 62.8 degC for 15 s") &&
                         INGLE_CONTAINS("54.4 degC for 1 h 52 min"));
}

TEST_CASE("the newest reading: what it is taken for, and whether conditioning doubts it") {
    FoodLedger ledger(dish("whole-meat"), zero);
    ledger.stage(at(0), FoodPhase::cooking);
    CHECK(ledger.doubt(0) == CoreDoubt::unsettled);
    feed(ledger, Curve{{{0, 10}, {10, 12}}}, 0, 600, 10);
    CHECK(ledger.doubt(0) == CoreDoubt::none);
    CHECK(ledger.doubt(1) == CoreDoubt::unsettled);
    CHECK(ledger.doubt(-1) == CoreDoubt::unsettled);
    CHECK_FALSE(ledger.present(1));
    CHECK_FALSE(ledger.present(-1));
    REQUIRE(ledger.present(0));
    CHECK_FALSE(ledger.present(0)->doubtful);
    ledger.take(at(640), 0, 12, Quality::doubtful);
    REQUIRE(ledger.present(0));
    CHECK(ledger.present(0)->doubtful);
    ledger.take(at(650), 0, 90, Quality::good);
    ledger.take(at(661), 0, 90, Quality::good);
    CHECK(ledger.doubt(0) == CoreDoubt::moved);
}

TEST_CASE("at most two hazards stand in a dish's answers") {
    FoodLedger ledger(dish("venison"), zero);
    ledger.stage(at(0), FoodPhase::cooking);
    ledger.put_in(VesselKind::smoker);
    feed(ledger, Curve{{{0, 10}, {60, 30}}}, 0, 3600);
    int count = 0;
    for (auto const& row : ledger.verdicts()) count += row.rule == "hazard";
    CHECK(count == 2);
}

TEST_CASE("of one moment it does not matter whether the core or what is around it is told first") {
    auto const judged = [](bool core_first) {
        FoodLedger ledger(dish("whole-poultry"), zero);
        ledger.stage(zero, FoodPhase::brining);
        std::vector<std::tuple<double, CoreDoubt, double>> all;
        ledger.on_judged([&](int, JudgedReading const& reading) {
            all.emplace_back(reading.t, reading.doubt, reading.medium.value_or(-1000));
        });
        // Beside the food, as warm as the brine but for its noise.
        for (int i = 0; i < 40; ++i) {
            auto const then = at(30.0 * i);
            double const brine = 3 + 0.3 * std::sin(2.5 * i), core = 3 + 0.01 * i;
            if (core_first) ledger.take(then, 0, core, Quality::good);
            ledger.medium(then, brine, Quality::good);
            if (!core_first) ledger.take(then, 0, core, Quality::good);
        }
        return all;
    };
    auto const first = judged(true);
    CHECK_FALSE(first.empty());
    CHECK(first == judged(false));
}

TEST_CASE("what one probe alone read is said to be so; two of them confirm one another") {
    Curve const done{{{0, 5}, {90, 80}, {100, 80}}};
    FoodLedger alone(thin_dish("ground-meat"), zero);
    alone.stage(at(0), FoodPhase::cooking, {}, {});
    feed(alone, done, 0, done.end());
    auto const one = verdict(alone, "core-target");
    REQUIRE(one.answer == "met");
    CHECK_THAT(one.text, INGLE_CONTAINS("One probe read it: a colder place elsewhere is not ruled out."));
    auto const both = verdict(two("ground-meat", FoodPhase::cooking, done, done), "core-target");
    REQUIRE(both.answer == "met");
    CHECK(both.text.find("One probe") == std::string::npos);
}
