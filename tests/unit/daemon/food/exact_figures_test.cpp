// The figures of the rules to their last digit, by closed forms and by hand: a tenth more of any of them, or
// a comparison the other way round, is seen. Times in seconds, degC.
#include <cmath>
#include <numbers>

#include "daemon/food/body_bounds.hpp"
#include "daemon/food/growth.hpp"
#include "daemon/food/holding.hpp"
#include "daemon/food/reheating.hpp"
#include "daemon/food/trichinella.hpp"
#include "tests/support/catch.hpp"
#include "tests/unit/daemon/food/ledger_bench.hpp"

using namespace ingle;
using namespace ingle::test;

namespace {

constexpr double hour = 3600;

bool has(FoodLedger const& ledger, std::string_view rule) {
    for (auto const& one : ledger.verdicts())
        if (one.rule == rule) return true;
    return false;
}

}  // namespace

// USDA: 2 h in all between 40 and 140 degF; FDA Food Code 3-501.16(A)(1): 135 degF or above.
TEST_CASE("kept hot: many short stays below the limit are two hours in all, at every rhythm") {
    // A day at 62 degC; in each hour it falls to 55 and comes back: below 60 degC for 12 min 34 s of it.
    auto const hot = [](double t) {
        double const m = std::fmod(t / 60, 60);
        if (m < 40) return 62.0;
        if (m < 45) return 62 - (m - 40) * 7 / 5;
        return m < 51 ? 55.0 : m < 56 ? 55 + (m - 51) * 7 / 5 : 62.0;
    };
    for (double const every : {10.0, 60.0, 300.0})
        for (auto const* food : {"stock", "vegetable"}) {
            INFO(food << " every " << every << " s");
            FoodLedger box(dish(food), zero);
            box.stage(zero, FoodPhase::hot_holding);
            auto const until = [&](double from, double to) {
                for (double t = from; t < to; t += every) box.take(at(t), 0, hot(t), Quality::good);
                box.advance(at(to));
                return concern(box, "danger-zone");
            };
            CHECK(until(0, 8.4 * hour).action != Action::discard);
            auto const told = until(8.4 * hour, 10.9 * hour);
            CHECK(told.truth == Holds::yes);
            CHECK(told.action == Action::discard);
            CHECK(told.priority == Priority::high);
            CHECK(until(10.9 * hour, 24 * hour).action == Action::discard);
            CHECK(verdict(box, "hot-hold").answer == "missed");
            CHECK(verdict(box, "danger-zone").answer.starts_with("missed"));
        }
}

TEST_CASE("Huang's model by its closed forms: the lag, the way to the most, and a ramp") {
    double const ln10 = std::numbers::ln10;
    FoodSample const warm[] = {{0, 40.0}, {100, 40.0}};
    double const a = 0.3, t_min = 10, rate = a * a * std::pow(30.0, 1.5);
    // Without a most: mu (t + ln((1 + e^-4(t - lag)) / (1 + e^4 lag)) / 4).
    HuangModel const late{2, 1000, a, t_min, 1.5};
    for (double const t : {1.0, 1.5, 3.0}) {
        double const grown =
            rate * (t + std::log((1 + std::exp(-4 * (t - 1.5))) / (1 + std::exp(4 * 1.5))) / 4);
        CHECK_THAT(huang_growth(late, warm, t, 0.05), WithinAbs(2 + grown / ln10, 1e-4));
    }
    // Without a lag: logistic in N.
    double const slow = 0.08, k = slow * slow * std::pow(30.0, 1.5), full = std::pow(10, 4.0), first = 1000;
    HuangModel const crowded{3, 4, slow, t_min, -1000};
    for (double const t : {1.0, 3.0, 6.0}) {
        double const n = full / (1 + (full / first - 1) * std::exp(-k * t));
        CHECK_THAT(huang_growth(crowded, warm, t, 0.5), WithinAbs(std::log10(n), 6e-5));
    }
    // From 10 to 40 degC in ten hours: a^2 (2/5) (3 t)^2.5 / 3.
    FoodSample const ramp[] = {{0, 10.0}, {10, 40.0}};
    HuangModel const free{3, 1000, slow, t_min, -1000};
    double const grown = slow * slow * 0.4 * std::pow(30.0, 2.5) / 3;
    CHECK_THAT(huang_growth(free, ramp, 10, 0.5), WithinAbs(3 + grown / ln10, 2e-4));
}

TEST_CASE("growth in a hole: to the best temperature as fast as it can, and back") {
    Step hole{0, 60, 7200, 50, true};
    hole.fastest = 0.01;
    GrowthBound unseen, seen;
    unseen.add(hole);
    double const in = (60 - 46.4) / 0.01, out = (50 - 46.4) / 0.01;
    seen.add({0, 60, in, 46.4});
    seen.add({in, 46.4, 7200 - out, 46.4});
    seen.add({7200 - out, 46.4, 7200, 50});
    CHECK(unseen.log10() > 1);
    CHECK_THAT(unseen.log10(), WithinAbs(seen.log10(), 1e-6));
}

TEST_CASE("reheating counts from 41 degF where that is passed in one step, else from where it was coldest") {
    auto const again = [](double coldest_f) {
        Reheating one;
        double const low = from_fahrenheit(coldest_f);
        one.add({0, low, 600, low}, true, true);
        one.add({600, low, 1800, from_fahrenheit(50)}, true, true);
        return one;
    };
    CHECK_THAT(again(38).began_latest_s(), WithinAbs(600 + 1200 * 3.0 / 12, 1));
    CHECK_THAT(again(42).began_latest_s(), WithinAbs(600, 1));
    CHECK(again(42).active());
}

TEST_CASE("what holding begins with: no hole, and three tenths of a kelvin of noise at the limit") {
    Holding cold(Holding::Side::cold, 4);
    cold.begin(0, 6.0);
    CHECK(cold.spell_s(10) == 10);
    CHECK(cold.hole_s() == 0);
    Holding comes(Holding::Side::cold, 4);
    comes.begin(0, 6.0, true);
    comes.add({0, 6, 60, 3.69});
    comes.add({60, 3.69, 120, 4.2});  // it had been there for good
    CHECK(comes.beyond_s() > 10);
    Holding near(Holding::Side::cold, 4);
    near.begin(0, 6.0, true);
    near.add({0, 6, 60, 3.72});
    near.add({60, 3.72, 120, 4.2});
    CHECK(near.beyond_s() == 0);
}

TEST_CASE(
    "a core ten minutes above the limit of cold holding, and one that has not counted for ten minutes") {
    FoodLedger cold(dish("stock"), zero);
    cold.stage(zero, FoodPhase::cold_holding);
    for (double t = 0; t <= 1800; t += 10) cold.take(at(t), 0, 3, Quality::good);
    for (double t = 1810; t <= 2450; t += 10) cold.take(at(t), 0, 6, Quality::good);
    CHECK(concern(cold, "cold-hold").truth == Holds::yes);  // for 610 s as far as it is certain
    FoodLedger beside(dish("ground-poultry"), zero);
    beside.stage(zero, FoodPhase::cooking);
    auto const until = [&](double from, double to) {
        for (double t = from; t <= to; t += 10) {
            beside.medium(at(t), 85, Quality::good);
            beside.take(at(t), 0, 85, Quality::good);
        }
        beside.advance(at(to));
        return concern(beside, "core-unread").truth;
    };
    CHECK(until(0, 590) != Holds::yes);
    CHECK(until(600, 630) == Holds::yes);
}

// FDA Food Code 3-403.11: what comes at 135 degF or above into a hot box is kept hot, and below it is heated.
TEST_CASE("cooked food that comes hot into a hot box is not heated again; below 135 degF it is") {
    auto const put_at = [](double f) {
        FoodLedger box(dish("leftover"), zero);
        box.stage(zero, FoodPhase::hot_holding);
        for (double t = 0; t <= 1200; t += 30) box.take(at(t), 0, from_fahrenheit(f), Quality::good);
        return has(box, "reheating");
    };
    CHECK_FALSE(put_at(140));
    CHECK_FALSE(put_at(135.2));
    CHECK(put_at(134.5));
}

TEST_CASE("the bounds of a body by hand: its steepest rate, and one that nothing bounds") {
    // (0.8 of 10 cm / 2)^2 / 1.5e-7 m2/s = 10,667 s; a slab's steepest rate is 1.851 of it.
    BodyBounds const slab(Length{0.1}, Shape::slab, 0);
    CHECK_THAT(*slab.rate(100), WithinAbs(1.851 * 100 / 10666.667, 1e-6));
    CHECK_THAT(*slab.bend(100), WithinAbs(26.5 * 100 / (10666.667 * 10666.667), 1e-9));
    CHECK_THAT(slab.relaxed(3600), WithinAbs(1 - std::exp(-2.467 * 3600 / 10666.667), 1e-6));
    BodyBounds const unknown({}, {}, 0);
    CHECK_FALSE(unknown.rate(100));
    CHECK(unknown.relaxed(60) == 1);
    CHECK(unknown.share_after(0.2, 60) == 1);
    CHECK(slab.share_after(0.99999, 36000) <= 1);
}

TEST_CASE("freezing says nothing of Trichinella, and names no time") {
    auto const none = trichinella_freezing(*food_class("fresh-ham"));
    CHECK(none.answer == TrichinellaAnswer::refused);
    CHECK(none.minutes == 0);
}
