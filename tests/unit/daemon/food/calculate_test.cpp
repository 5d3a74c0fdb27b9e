// The calculators over a recording never credit more than the daemon does.
#include "daemon/food/calculate.hpp"

#include "daemon/food/classes.hpp"
#include "daemon/food/recording_ledger.hpp"
#include "tests/support/catch.hpp"
#include "tests/unit/daemon/food/ledger_bench.hpp"

using namespace ingle;
using namespace ingle::test;

namespace {

LedgerSettings of_class(std::string food) {
    LedgerSettings settings;
    settings.dish.food = std::move(food);
    return settings;
}

std::vector<FoodSample> sampled(Curve const& curve, double every, double dead_until_s = 0) {
    std::vector<FoodSample> series;
    for (double t = 0; t <= curve.end(); t += every)
        series.push_back({t, t < dead_until_s ? std::nullopt : std::optional(curve(t)), false});
    return series;
}

}  // namespace

TEST_CASE("hours before the first reading may have been the come-up: nothing is credited after them") {
    Curve const ham{{{0, 49}, {480, 49}, {560, 75}, {600, 75}}};
    auto const& meat = *food_class("whole-meat");
    for (double const every : {30.0, 300.0}) {
        auto const whole = lethality_of(sampled(ham, every), meat);
        auto const dead = lethality_of(sampled(ham, every, 8 * 3600), meat);
        auto const short_gap = lethality_of(sampled({{{0, 49}, {80, 75}, {120, 75}}}, every, 600), meat);
        CHECK(*dead.log10 == 0);
        CHECK(dead.come_up_possible_s > 6 * 3600);
        CHECK(dead.gap_s >= 8 * 3600 - every);
        CHECK(dead.danger_possible_s >= 8 * 3600);
        CHECK_THAT(dead.why, INGLE_CONTAINS("nothing is credited"));
        CHECK(*whole.log10 == 0);  // by what was read it took longer than 6 h
        CHECK(*short_gap.log10 == 7);
    }
}

TEST_CASE("what was not read at the end may have been in the danger zone") {
    Curve const soup{{{0, 80}, {240, 80}}};
    auto series = sampled(soup, 60);
    for (auto& one : series)
        if (one.t_s > 3600) one.celsius.reset();
    auto const found = lethality_of(series, *food_class("stock"));
    CHECK(found.danger_s == 0);
    CHECK(found.danger_possible_s > 2.9 * 3600);
}

TEST_CASE("of bear only the core target credits the figure that stands in for it") {
    auto const& bear = *food_class("bear-boar");
    auto const rare = lethality_of(sampled({{{0, 5}, {120, 63}, {180, 63}}}, 30), bear);
    CHECK(*rare.log10 == 0);
    CHECK(*rare.computed_log10 > 6.5);
    CHECK_THAT(rare.why, INGLE_CONTAINS("165.0 degF"));
    auto const done = lethality_of(sampled({{{0, 5}, {120, 74.5}, {180, 74.5}}}, 30), bear);
    CHECK(*done.log10 > 6.5);
}

TEST_CASE("with the medium beside it, a tip that was only ever in the liquid is no core") {
    Curve const stock{{{0, 85}, {120, 85}}};
    auto const core = sampled(stock, 30), bath = sampled(stock, 30);
    auto const counts = [](std::vector<FoodSample> const& samples) {
        return std::ranges::count_if(samples, [](auto const& one) { return one.celsius.has_value(); });
    };
    CHECK(counts(core_samples(core, FoodPhase::cooking)) > 0);
    CHECK(counts(core_samples(core, FoodPhase::cooking, nullptr, bath)) == 0);
}

TEST_CASE("the calculators say no more of a cooling than the ledger does, whatever is done to the food") {
    // Hot into the fridge; after 50 min the tip slides into the air, and comes back warm in two and a half
    // hours.
    Curve const slid{
        {{0, 76}, {50, 74}, {55, 60}, {60, 32}, {65, 12}, {70, 5}, {150, 3}, {151, 55}, {480, 20}}};
    Curve const honest{{{0, 60}, {60, 40}, {110, 20}, {240, 4}, {330, 3}}};
    auto const& rule = *cooling_rule("food-code");
    auto const answer = [&](Curve const& curve, double every) {
        auto const series = sampled(curve, every);
        auto found = cooling_of(core_samples(series, FoodPhase::cooking, nullptr, {}, {}, false), rule);
        std::string why;
        bear_out(found, series, {}, of_class("whole-poultry"), why);
        return found.answer;
    };
    for (double const every : {30.0, 60.0, 300.0}) {
        INFO(every << " s");
        CHECK(answer(slid, every) != CoolingAnswer::met);
        CHECK(answer(honest, every) == CoolingAnswer::met);
        for (auto const phase : {FoodPhase::cooking, FoodPhase::chilling, FoodPhase::waiting})
            CHECK(ledger_answers(sampled(slid, every), {}, of_class("whole-poultry"), phase).cooling !=
                  CoolingAnswer::met);
    }
    // A cooling that one of them calls good and another does not is not known, and says why.
    auto const series = sampled(slid, 300);
    SeriesCooling boast{CoolingAnswer::met, CoolingClock(rule), 0};
    std::string why = "met";
    bear_out(boast, series, {}, of_class("whole-poultry"), why);
    CHECK(boast.answer != CoolingAnswer::met);
    CHECK(why != "met");
}

TEST_CASE("the calculators credit no more heat than the ledger does") {
    auto const series = sampled({{{0, 5}, {120, 74.5}, {180, 74.5}}}, 30);
    auto found = lethality_of(series, *food_class("whole-poultry"));
    REQUIRE(found.log10);
    double const own = *found.log10;
    bear_out(found, series, {}, of_class("whole-poultry"));
    CHECK(*found.log10 <= own);
    CHECK(*found.log10 > 6.5);
    // Straight into the liquid: nothing of it is the core's.
    auto const liquid = sampled({{{0, 5}, {5, 5}, {8, 85}, {120, 85}}}, 60);
    SeriesLethality boast;
    boast.log10 = 20;
    bear_out(boast, liquid, {}, of_class("whole-poultry"));
    CHECK(*boast.log10 < 1);
    CHECK_FALSE(boast.why.empty());
}

TEST_CASE("told what was done to the food, a calculator's cooling is the ledger's of such a dish") {
    Curve const honest{{{0, 60}, {60, 40}, {110, 20}, {240, 4}, {330, 3}}};
    auto const series = sampled(honest, 60), fridge = sampled({{{0, 3}, {330, 3}}}, 60);
    auto const& rule = *cooling_rule("food-code");
    for (auto const phase : {FoodPhase::cooking, FoodPhase::chilling, FoodPhase::resting}) {
        auto const own = ledger_answers(series, fridge, of_class("whole-poultry"), phase).cooling;
        for (auto const said : {CoolingAnswer::met, CoolingAnswer::missed, CoolingAnswer::unknown}) {
            SeriesCooling found{said, CoolingClock(rule), 0};
            std::string why = "said";
            bear_out(found, series, fridge, of_class("whole-poultry"), why, phase);
            CHECK(found.answer == own);
            CHECK((why == "said") == (said == own));
        }
    }
    // Where all agree, whatever was done to it, it is what they say.
    SeriesCooling worse{CoolingAnswer::missed, CoolingClock(rule), 0};
    std::string why;
    bear_out(worse, series, fridge, of_class("whole-poultry"), why);
    CHECK(worse.answer == CoolingAnswer::met);
}
