// The figures and the sources that stand in a dish's sentences: a verdict names its rule and the other one.
#include "tests/support/catch.hpp"
#include "tests/unit/daemon/food/ledger_bench.hpp"

using namespace ingle;
using namespace ingle::test;

namespace {

constexpr double hour = 3600;

FoodLedger along(std::string food, FoodPhase phase, Curve const& curve, TemperatureUnit units = {}) {
    auto settings = dish(std::move(food));
    settings.units = units;
    FoodLedger ledger(settings, zero);
    ledger.stage(at(0), phase);
    feed(ledger, curve, 0, curve.end());
    return ledger;
}

std::string words(FoodLedger const& ledger, std::string_view rule) {
    return verdict(ledger, rule).text;
}

constexpr auto fahrenheit = TemperatureUnit::fahrenheit;

}  // namespace

TEST_CASE("holding names both limits with their sources, and the time as it was measured") {
    auto const hot =
        along("stock", FoodPhase::hot_holding, Curve{{{0, 64}, {60, 64}, {61, 58}, {91, 58}}}, fahrenheit);
    CHECK_THAT(words(hot, "hot-hold"), INGLE_CONTAINS("FDA Food Code 3-501.16(A)(1)") &&
                                           INGLE_CONTAINS("140") && INGLE_CONTAINS("at worst 136.4 degF") &&
                                           INGLE_CONTAINS("measured 30 min"));
    CHECK_THAT(words(hot, "hot-hold"), !INGLE_CONTAINS("may have been"));
    CHECK(verdict(hot, "hot-hold").answer == "missed");
    CHECK_THAT(verdict(hot, "hot-hold").source, INGLE_CONTAINS("140 degF"));
    auto const cold =
        along("stock", FoodPhase::cold_holding, Curve{{{0, 3}, {60, 3}, {61, 7}, {91, 7}}}, fahrenheit);
    CHECK_THAT(words(cold, "cold-hold"), INGLE_CONTAINS("FDA Food Code 3-501.16(A)(2)") &&
                                             INGLE_CONTAINS("above 40") &&
                                             INGLE_CONTAINS("at worst 44.6 degF"));
    CHECK_THAT(words(cold, "cold-hold"), !INGLE_CONTAINS("may have been"));
    CHECK_THAT(words(cold, "cold-hold-2h"), !INGLE_CONTAINS("possibly") && INGLE_CONTAINS("at most 2 h"));
    CHECK(verdict(cold, "cold-hold-2h").answer == "met");
    auto const told = concern(cold, "cold-hold").text;
    CHECK_THAT(told, INGLE_CONTAINS("refrigerator at 40 degF") && INGLE_CONTAINS("3-501.16(A)(2)"));
    CHECK_THAT(told,
               !INGLE_CONTAINS("possible with what was not read") && !INGLE_CONTAINS("nothing was read"));
    auto const kept = along("stock", FoodPhase::cold_holding, Curve{{{0, 3}, {60, 3}}});
    CHECK(verdict(kept, "cold-hold").answer == "met");
    CHECK(verdict(along("stock", FoodPhase::hot_holding, Curve{{{0, 64}, {60, 64}}}), "hot-hold").answer ==
          "met");
}

TEST_CASE("the air is not the food: within the limit it was not measured, beyond it it was missed") {
    auto const kept_in = [](double air_c, FoodPhase phase, double silent_s = 0) {
        FoodLedger ledger(dish("stock", 0), zero);
        ledger.stage(at(0), phase);
        for (double t = 0; t <= hour; t += 30) ledger.medium(at(t), air_c, Quality::good);
        ledger.advance(at(hour + silent_s));
        return ledger;
    };
    CHECK(verdict(kept_in(3, FoodPhase::cold_holding), "cold-hold").answer == "food not measured");
    CHECK_THAT(words(kept_in(3, FoodPhase::cold_holding), "cold-hold"), INGLE_CONTAINS("never above"));
    CHECK(verdict(kept_in(3, FoodPhase::cold_holding, 600), "cold-hold").answer == "unknown");
    CHECK_THAT(words(kept_in(3, FoodPhase::cold_holding, 600), "cold-hold"),
               INGLE_CONTAINS("may have been 10 min"));
    CHECK(verdict(kept_in(8, FoodPhase::cold_holding), "cold-hold").answer == "missed");
    CHECK_THAT(words(kept_in(8, FoodPhase::cold_holding), "cold-hold"),
               INGLE_CONTAINS("measured 1 h") && INGLE_CONTAINS("3-501.16(A)(2)"));
    CHECK_THAT(words(kept_in(8, FoodPhase::cold_holding), "cold-hold"), !INGLE_CONTAINS("may have been"));
    CHECK(verdict(kept_in(70, FoodPhase::hot_holding), "hot-hold").answer == "food not measured");
    CHECK(verdict(kept_in(50, FoodPhase::hot_holding), "hot-hold").answer == "missed");
    CHECK_THAT(words(kept_in(50, FoodPhase::hot_holding), "hot-hold"), INGLE_CONTAINS("3-501.16(A)(1)"));
}

TEST_CASE("lethality names its table, its row and the come-up; game is measured by a model") {
    auto const ham =
        along("fresh-ham", FoodPhase::cooking, Curve{{{0, 5}, {120, 66}, {180, 66}}}, fahrenheit);
    auto const said = words(ham, "lethality");
    CHECK_THAT(said, INGLE_CONTAINS("Asked: 6.5 log10") &&
                         INGLE_CONTAINS("Come-up from 50 degF to 130 degF") &&
                         INGLE_CONTAINS("within the 6 h") && INGLE_CONTAINS("Its table asks for") &&
                         INGLE_CONTAINS("between the rows"));
    CHECK_THAT(said, !INGLE_CONTAINS("with what was not read"));
    CHECK(verdict(ham, "lethality").answer == "met");
    CHECK_THAT(words(ham, "trichinella"), INGLE_CONTAINS("asks an instant at 144 degF") ||
                                              INGLE_CONTAINS("Historic table for pork: asks"));
    CHECK(verdict(ham, "trichinella").answer == "met");
    auto const cool =
        along("fresh-ham", FoodPhase::cooking, Curve{{{0, 5}, {120, 48}, {140, 48}}}, fahrenheit);
    CHECK(verdict(cool, "trichinella").answer == "not reached");
    CHECK_THAT(words(cool, "trichinella"), INGLE_CONTAINS("21 h at 120 degF"));
    auto const warm =
        along("fresh-ham", FoodPhase::cooking, Curve{{{0, 5}, {120, 53}, {140, 53}}}, fahrenheit);
    CHECK_THAT(words(warm, "trichinella"), INGLE_CONTAINS("no row from 130 degF"));
    CHECK_THAT(words(warm, "lethality"), INGLE_CONTAINS("No row of its table is fulfilled"));
    // 130 degF for 29 and 31 min, of the 30 of its row.
    auto const held = [](double minutes) {
        double const c = from_fahrenheit(130.05);
        return verdict(along("fresh-ham", FoodPhase::cooking,
                             Curve{{{0, 20}, {120, c}, {120 + minutes, c}, {180, c - 10}}}),
                       "trichinella")
            .answer;
    };
    CHECK(held(29) == "not reached");
    CHECK(held(31) == "met");
    auto const bear =
        along("bear-boar", FoodPhase::cooking, Curve{{{0, 5}, {200, 70}, {260, 70}}}, fahrenheit);
    CHECK_THAT(words(bear, "lethality"),
               INGLE_CONTAINS("by the model named") && INGLE_CONTAINS("It decides nothing here"));
    CHECK(verdict(bear, "lethality").answer != "met");
    CHECK(verdict(bear, "trichinella").answer == "not reached so far");
}

TEST_CASE("the danger zone names the other rules, and a hot room only where there was one") {
    auto const stock = along("stock", FoodPhase::waiting, Curve{{{0, 25}, {60, 25}}}, fahrenheit);
    auto const said = words(stock, "danger-zone");
    CHECK_THAT(said, INGLE_CONTAINS("between 40.0 degF and 140.0 degF") && INGLE_CONTAINS("measured 1 h") &&
                         INGLE_CONTAINS("at most 2 h") && INGLE_CONTAINS("FDA Food Code 41 to 135 degF") &&
                         INGLE_CONTAINS("come-up from 50 to 130 degF within 6 h"));
    CHECK_THAT(said, !INGLE_CONTAINS("in air above") && !INGLE_CONTAINS("may have been"));
    CHECK(verdict(stock, "danger-zone").answer == "1 h");
}

TEST_CASE("cooling says when it began, what each stage took, and nothing of what was not") {
    // 135 degF after 60 min, 70 degF after 150, 41 degF after 240.
    Curve const cools{{{0, 70}, {60, 57.3}, {150, 21}, {240, 4.9}, {300, 3}}};
    auto const stock = along("stock", FoodPhase::chilling, cools, fahrenheit);
    auto const said = words(stock, "cooling");
    CHECK(verdict(stock, "cooling").answer == "met");
    CHECK_THAT(said, INGLE_CONTAINS("To 70.0 degF: took 1 h 30 min; allowed 2 h: met.") &&
                         INGLE_CONTAINS("To 41.0 degF: took") && INGLE_CONTAINS("allowed 6 h: met."));
    for (auto const* not_said :
         {"Missed once", "at the earliest", "Before that it was", "After that it was", "not certain"})
        CHECK_THAT(said, !INGLE_CONTAINS(not_said));
    auto const hot = along("stock", FoodPhase::chilling, Curve{{{0, 90}, {60, 70}}}, fahrenheit);
    CHECK_THAT(words(hot, "cooling"), INGLE_CONTAINS("has not fallen through 135.0 degF"));
    auto const open =
        along("stock", FoodPhase::chilling, Curve{{{0, 70}, {60, 57.3}, {120, 30}}}, fahrenheit);
    CHECK_THAT(words(open, "cooling"), INGLE_CONTAINS("To 70.0 degF: not yet after 1 h"));
    auto const late =
        along("stock", FoodPhase::chilling, Curve{{{0, 70}, {60, 57.3}, {200, 40}}}, fahrenheit);
    CHECK_THAT(concern(late, "cooling-late").text,
               INGLE_CONTAINS("after it fell through 135.0 degF; it had to be at 70.0 degF within 2 h"));
    CHECK_THAT(words(late, "cooling"), INGLE_CONTAINS("missed."));
    // Growth is a bound, and told with the standard that it is held against.
    CHECK_THAT(words(stock, "growth"), INGLE_CONTAINS("1 log10 (9 CFR 318.17)"));
}
