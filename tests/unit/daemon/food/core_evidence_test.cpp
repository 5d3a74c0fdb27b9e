// What counts as the core's own reading, at every rhythm from one a second to one in five minutes.
#include "daemon/food/core_evidence.hpp"

#include <cmath>
#include <functional>

#include "daemon/food/calculate.hpp"
#include "tests/support/catch.hpp"
#include "tests/unit/daemon/food/ledger_bench.hpp"

using namespace ingle;
using namespace ingle::test;

namespace {

using Readings = std::function<double(double)>;  // degC at seconds
constexpr double rhythms[] = {1, 5, 10, 30, 60, 300};

struct Judged {
    std::vector<JudgedReading> all;
    CoreDoubt last = CoreDoubt::none;
    std::vector<JudgedReading> counted() const {
        std::vector<JudgedReading> some;
        for (auto const& one : all)
            if (one.doubt == CoreDoubt::none) some.push_back(one);
        return some;
    }
    double highest() const {
        double top = -1000;
        for (auto const& one : counted()) top = std::max(top, one.celsius);
        return top;
    }
    double lowest() const {
        double bottom = 1000;
        for (auto const& one : counted()) bottom = std::min(bottom, one.celsius);
        return bottom;
    }
    bool counts_at(double from, double to) const {
        for (auto const& one : counted())
            if (from <= one.t && one.t <= to) return true;
        return false;
    }
};

Judged judge(Readings const& core, double until, double every, FoodPhase phase, Readings const& medium = {},
             std::optional<Length> thickness = {}) {
    CoreEvidence evidence(thickness);
    Judged judged;
    for (double t = 0; t <= until; t += every) {
        evidence.take(t, core(t), false, phase, medium ? std::optional(medium(t)) : std::nullopt);
        for (auto const& one : evidence.take_judged()) judged.all.push_back(one);
    }
    judged.last = evidence.doubt();
    return judged;
}

// The core, but between `out` and `back` the tip is somewhere else; it comes to what is there in `lag` s.
Readings moved(Curve core, double out, double back, double there, double lag = 10) {
    return [=](double t) {
        if (t < out) return core(t);
        double const away = there + (core(out) - there) * std::exp(-(std::min(t, back) - out) / lag);
        return t < back ? away : core(t) + (away - core(back)) * std::exp(-(t - back) / lag);
    };
}

Curve const roast{{{0, 5}, {150, 60}, {240, 80}}};

}  // namespace

TEST_CASE("an undisturbed core counts from its first reading to its last, at every rhythm") {
    Curve const quick{{{0, 10}, {2, 10}, {12, 75}, {40, 76}}};  // a thin cutlet: 6.5 K/min
    for (double const every : rhythms) {
        for (auto const& curve : {roast, Curve{{{0, 80}, {120, 20}, {400, 4}}}}) {
            auto const judged = judge(curve, curve.end(), every, FoodPhase::cooking);
            CHECK(judged.counted().size() == judged.all.size());
            CHECK(judged.counted().front().t == 0);
            CHECK(judged.last == CoreDoubt::none);
        }
        if (every > 30) continue;  // at one reading in five minutes it looks like a step
        auto const judged = judge(quick, quick.end(), every, FoodPhase::cooking, {}, Length{0.02});
        CHECK(judged.counted().size() == judged.all.size());
    }
}

TEST_CASE("a tip in hot air, in cold air or in the liquid is not the core, and a return is recognised") {
    for (double const every : rhythms) {
        // Out at 57 degC: into smoke of 110, stock of 85, air of 4 and a hand of 34 degC, for 10 min.
        for (double const there : {110.0, 85.0, 4.0, 34.0}) {
            auto const judged = judge(moved(roast, 8400, 9000, there), 14400, every, FoodPhase::cooking);
            INFO(every << " s, " << there);
            CHECK(judged.highest() < roast(14400) + 0.1);
            CHECK_FALSE(judged.counts_at(8400 + 1, 9000));
            CHECK(judged.counts_at(9000, 9000 + 600 + 2 * every));
            CHECK(judged.last == CoreDoubt::none);
            for (auto const& one : judged.counted()) CHECK(std::abs(one.celsius - roast(one.t)) < 1.5);
        }
    }
}

TEST_CASE("a long stay elsewhere is not the core until the core could have come there") {
    for (double const every : rhythms) {
        INFO(every << " s");
        Curve const warm{{{0, 5}, {130, 75.6}, {600, 75.6}}};
        auto const chilled = judge(moved(warm, 7800, 1e9, 2.8), 36000, every, FoodPhase::cooking);
        CHECK_FALSE(chilled.counts_at(7801, 7800 + 6 * 3600));
        auto const in_stock = judge(moved(roast, 8400, 1e9, 85), 8400 + 3600, every, FoodPhase::cooking);
        CHECK(in_stock.highest() < 61);
        // Where the medium is measured, its own level is never the core's.
        auto const at_medium =
            judge(moved(roast, 8400, 1e9, 85), 36000, every, FoodPhase::cooking, [](double) { return 85.3; });
        CHECK(at_medium.highest() < 61);
    }
}

TEST_CASE("what equals its medium from the start is no evidence, until it is in the food") {
    auto const stock = [](double) { return 85.0; };
    for (double const every : rhythms) {
        INFO(every << " s");
        auto const never =
            judge([](double t) { return 85 + 0.2 * std::sin(t); }, 7200, every, FoodPhase::cooking, stock);
        CHECK(never.counted().empty());
        CHECK(never.last == CoreDoubt::at_medium);
        Curve const roll{{{0, 7}, {120, 60}}};
        auto const put_in = judge(
            [&](double t) { return t < 300 ? 85.0 : roll(t) + (85 - roll(300)) * std::exp(-(t - 300) / 8); },
            7200, every, FoodPhase::cooking, stock);
        CHECK(put_in.highest() < 61);
        CHECK(put_in.counts_at(300, 900 + every));
        // The mirror: in ice water at the start, then in the hot roll.
        auto const cooled = judge([&](double t) { return t < 180 ? 1.0 : 70 - t / 400; }, 7200, every,
                                  FoodPhase::chilling, [](double) { return 1.0; });
        CHECK(cooled.lowest() > 40);
    }
}

TEST_CASE("pushed to a place further from done: that is the core, and what was credited before is void") {
    for (double const every : rhythms) {
        INFO(every << " s");
        Curve const centre{{{0, 7}, {180, 60}}};
        auto const judged =
            judge([&](double t) { return t < 300 ? 85.0 : centre(t); }, 10800, every, FoodPhase::cooking);
        REQUIRE(judged.last == CoreDoubt::none);
        int places = 0;
        for (auto const& one : judged.counted()) places += one.new_place;
        CHECK(places + (every == 300) >= 1);  // one reading at 85 degC is none
        CHECK_THAT(judged.counted().back().celsius, WithinAbs(60, 2));
    }
}

TEST_CASE("a wild reading is left out and costs nothing else") {
    for (double const every : {1.0, 10.0, 60.0}) {
        auto const judged = judge([&](double t) { return std::abs(t - 3600) < 0.5 ? 95.0 : roast(t); }, 7200,
                                  every, FoodPhase::cooking);
        CHECK(judged.counted().size() + 1 == judged.all.size());
    }
    CHECK(judge([](double) { return 130.0; }, 600, 1, FoodPhase::cooking).counted().empty());
}

TEST_CASE("noise and whole degrees are no move") {
    std::uint32_t state = 1;
    for (double const every : {1.0, 10.0, 60.0}) {
        auto const judged = judge(
            [&](double t) {
                state = state * 1664525u + 1013904223u;
                double const noise = static_cast<double>(state >> 8) / (1u << 24) - 0.5;
                return std::round(roast(t) + noise);
            },
            14400, every, FoodPhase::cooking);
        CHECK(judged.counted().size() == judged.all.size());
    }
}

TEST_CASE("a restart forgets half a minute, not where the tip was") {
    CoreEvidence whole{std::nullopt}, first{std::nullopt};
    auto const air = moved(roast, 8400, 1e9, 4);
    for (double t = 0; t < 8700; t += 5) first.take(t, air(t), false, FoodPhase::cooking, {});
    auto writing = FieldVisitor::writing();
    first.fields(writing);
    auto reading = FieldVisitor::reading(writing.text());
    CoreEvidence second{std::nullopt};
    second.fields(reading);
    CHECK_FALSE(reading.broken());
    CHECK(second.doubt() == CoreDoubt::moved);
    for (double t = 8700; t < 12000; t += 5) second.take(t, air(t), false, FoodPhase::cooking, {});
    for (auto const& one : second.take_judged()) CHECK(one.doubt == CoreDoubt::moved);
}

TEST_CASE("the calculators judge a recording as the daemon does") {
    std::vector<FoodSample> series;
    auto const pulled = moved(roast, 8400, 8700, 95);
    for (double t = 0; t <= 9600; t += 10) series.push_back({t, pulled(t)});
    auto const* poultry = food_class("whole-poultry");
    auto const counted = lethality_of(core_samples(series, FoodPhase::cooking), *poultry);
    auto const all = lethality_of(series, *poultry);
    CHECK(*all.log10 >= 7);
    CHECK(*counted.log10 < 7);
    CHECK(*counted.peak_c < 63);
}

TEST_CASE("removing readings, or adding a stretch of air, never adds to what counts") {
    for (double from = 600; from < 12000; from += 1700) {
        for (double const length : {20.0, 200.0, 2000.0}) {
            CoreEvidence evidence{std::nullopt};
            for (double t = 0; t <= 14400; t += 10)
                if (t < from || t > from + length) evidence.take(t, roast(t), false, FoodPhase::cooking, {});
            for (auto const& one : evidence.take_judged())
                if (one.doubt == CoreDoubt::none) CHECK(one.celsius == roast(one.t));
            for (double const air : {-18.0, 4.0, 20.0, 95.0, 180.0}) {
                auto const judged =
                    judge(moved(roast, from, from + length, air), 14400, 10, FoodPhase::cooking);
                for (auto const& one : judged.counted())
                    CHECK(one.celsius < roast(one.t) + (std::abs(air - roast(from)) < 12 ? 12 : 1.5));
            }
        }
    }
}

TEST_CASE("one reading in minutes that leaps nearer to done counts only when the next bears it out") {
    for (bool const borne_out : {false, true}) {
        CAPTURE(borne_out);
        CoreEvidence judge(Length{0.05});
        double t = 0;
        for (double const c : {10.0, 20.0, 32.0, 44.0, 56.0, 80.0}) {
            judge.take(t, c, false, FoodPhase::cooking, std::nullopt);
            t += 300;
        }
        if (borne_out) judge.take(t, 92, false, FoodPhase::cooking, std::nullopt);
        judge.advance(t + 120);
        double highest = 0;
        for (auto const& one : judge.take_judged())
            if (one.doubt == CoreDoubt::none) highest = std::max(highest, one.celsius);
        CHECK((highest > 79) == borne_out);
    }
}

TEST_CASE("two readings in the gravy, minutes apart, are no core, and what comes after them is") {
    for (double const every : {120.0, 180.0, 300.0})
        for (double const there : {74.0, 76.0, 80.0, 88.0, 96.0}) {
            INFO("every " << every << " s, " << there << " degC");
            Curve const pork{{{0, 8}, {240, 72}}};
            double const out = std::ceil(12000 / every) * every;
            double highest = 0, newest = 0;
            CoreEvidence judge({}, food_class("whole-meat"));
            for (double t = 0; t <= 14400; t += every) {
                bool const away = t == out || t == out + every;
                judge.take(t, away ? there : pork(t), false, FoodPhase::cooking, std::nullopt);
                for (auto const& one : judge.take_judged())
                    if (one.doubt == CoreDoubt::none)
                        highest = std::max(highest, one.celsius), newest = one.t;
            }
            CHECK(highest < 72.5);
            CHECK(newest > 14400 - 2 * every);
        }
}

TEST_CASE("a reading a minute that leaps where the food rests or cooks, and goes back, is no core's") {
    Curve const slower{{{0, 30}, {50, 66}, {80, 70}}};
    auto const reads = [&](double t) { return t == 3000 ? 75.0 : slower(t); };
    for (double const every : {30.0, 60.0, 100.0})
        for (auto const phase :
             {FoodPhase::waiting, FoodPhase::resting, FoodPhase::cooking, FoodPhase::hot_holding}) {
            INFO(every << " s, " << to_word(phase));
            auto const judged = judge(reads, 4200, every, phase, {}, Length{0.05});
            CHECK(judged.highest() < 70);
            CHECK(judged.counted().size() + 2 >= judged.all.size());
        }
}

TEST_CASE("what was read for less than a minute before a hole is not what is read after it") {
    // A minute at rest, an hour unread, and then the tip lies in the liquid.
    for (auto const phase : {FoodPhase::waiting, FoodPhase::cooking}) {
        CoreEvidence evidence(Length{0.07});
        double highest = -1000;
        auto const read = [&](double from, double to, double celsius) {
            for (double t = from; t <= to; t += 2) {
                evidence.take(t, celsius, false, phase, std::nullopt);
                for (auto const& one : evidence.take_judged())
                    if (one.doubt == CoreDoubt::none) highest = std::max(highest, one.celsius);
            }
        };
        read(0, 56, 73.9);
        read(3316, 4626, 87.8);
        INFO(to_word(phase));
        CHECK(highest < 75);
        CHECK(evidence.doubt() == CoreDoubt::moved);
    }
    // What is no nearer to done, or worth nothing yet, counts as at any slow rhythm.
    auto const seldom = judge([](double t) { return 13 + t / 90; }, 7200, 720, FoodPhase::cooking);
    CHECK(seldom.counted().front().t == 0);
}
