// The clock of a cooling, step by step: when it starts, what undoes a limit that was passed, and what is
// carried over. Food Code rule (135 to 70 degF in 2 h, to 41 degF in 6 h) unless another is named; the
// figures are done by hand.
#include <cmath>

#include "daemon/food/cooling.hpp"
#include "tests/support/catch.hpp"

using namespace ingle;

namespace {

constexpr double minute = 60;
constexpr double c41 = 5, c70 = (70 - 32) / 1.8, c135 = (135 - 32) / 1.8;

struct Bench {
    CoolingClock clock;
    double t = 0, c = 0;
    Bench(double first_c, std::string_view rule = "food-code",
          double warm_from_c = CoolingClock::warm_start_c)
        : clock(*cooling_rule(rule)), c(first_c) {
        clock.first(0, first_c, std::nullopt, warm_from_c);
    }
    // A straight line to `to` degC in so many minutes, read once a minute.
    Bench& line(double minutes, double to, Warming warming = Warming::unknown, bool pasteurised = false) {
        double const t0 = t, c0 = c;
        for (double m = 1; m <= minutes + 1e-9; ++m) {
            double const next = c0 + (to - c0) * m / minutes;
            clock.add({t, c, t0 + m * minute, next}, pasteurised, warming);
            t = t0 + m * minute;
            c = next;
        }
        return *this;
    }
    Bench& unread(double seconds, double to, double fastest = fastest_core_k_per_s) {
        Step step{t, c, t + seconds, to, true};
        step.fastest = fastest;
        clock.add(step, false);
        t += seconds;
        c = to;
        return *this;
    }
    std::string answer(bool blind = false) const { return std::string(to_word(clock.answer(t, blind))); }
};

// Cooked, then at 41 degF after five hours; 70 degF was passed after one.
Bench cold_at_last() {
    return Bench(70).line(20, c135).line(60, c70).line(240, c41 - 0.5);
}

}  // namespace

TEST_CASE(
    "the clock starts where the core falls through the upper limit, or through 130 degF if it was cooked "
    "low") {
    Bench hot(70);
    hot.line(20, c135).line(10, c135 - 10);
    CHECK(hot.clock.running());
    CHECK(hot.clock.cooked());
    CHECK_THAT(hot.clock.start_latest_s(), WithinAbs(20 * minute, 1e-3));
    CHECK_THAT(hot.clock.start_limit_c(), WithinAbs(c135, 1e-9));
    double const c130 = from_fahrenheit(130);
    Bench roast(c130 + 1);
    roast.line(60, c130 + 1, Warming::heated, true).line(10, c130 - 4, Warming::none, true);
    CHECK(roast.clock.running());
    CHECK_THAT(roast.clock.start_latest_s(), WithinAbs(62 * minute, 1));
    CHECK_THAT(roast.clock.start_limit_c(), WithinAbs(c130, 1e-9));
    Bench rare(c130 - 0.5);  // never there
    rare.line(60, c130 - 0.5, Warming::heated, true).line(10, c130 - 5, Warming::none, true);
    CHECK_FALSE(rare.clock.cooked());
    Bench raw(c130 + 1);  // there, and nothing was killed yet
    raw.line(60, c130 + 1, Warming::heated).line(10, c130 - 5);
    CHECK_FALSE(raw.clock.cooked());
    Bench first(c135);  // at the limit already
    CHECK(first.clock.cooked());
    CHECK_FALSE(first.clock.running());
    Bench printed(57);  // as the Food Code prints it in degC
    CHECK(printed.clock.running());
    CHECK(printed.clock.start_latest_s() == 0);
    CHECK_FALSE(Bench(56.9).clock.running());
}

TEST_CASE(
    "begun warm, it may have been cooked before anybody looked: 20 degC, and 30 degC for what is put raw to "
    "cold") {
    CHECK(Bench(20).answer() == "not-applicable");
    CHECK(Bench(20.1).answer() == "unknown");
    CHECK(Bench(30, "food-code", CoolingClock::raw_warm_start_c).answer() == "not-applicable");
    CHECK(Bench(30.1, "food-code", CoolingClock::raw_warm_start_c).answer() == "unknown");
    // It runs once it fell by 2 K, and no longer when it rose by 3 K over its first reading.
    CHECK_FALSE(Bench(40).line(10, 38.1).clock.running());
    CHECK(Bench(40).line(10, 37.9).clock.running());
    CHECK(Bench(40).line(10, 37.9).line(10, 42.9).clock.running());
    CHECK_FALSE(Bench(40).line(10, 37.9).line(10, 43.1).clock.running());
}

TEST_CASE("a limit that was passed opens again when the core rises over it by more than a kelvin") {
    CHECK(cold_at_last().clock.next_stage() == 2);
    CHECK(cold_at_last().answer() == "met");
    CHECK(cold_at_last().line(10, c41 + 0.9).clock.next_stage() == 2);
    CHECK(cold_at_last().line(10, c41 + 1.1).clock.next_stage() == 1);
    CHECK(cold_at_last().line(10, c70 + 0.9).clock.next_stage() == 1);
    CHECK(cold_at_last().line(10, c70 + 1.1).clock.next_stage() == 0);
}

TEST_CASE("after an hour below the last limit the cooling is over, and what comes then is time in the warm") {
    // 41 degF is passed one minute's share before the last reading of the line.
    auto const rises = [](double minutes_below, double to) {
        return cold_at_last().line(minutes_below, c41 - 0.5).line(30, to, Warming::none);
    };
    CHECK(rises(40, c41 + 5).clock.next_stage() == 1);
    CHECK(rises(40, c41 + 5).clock.warm_again_s() == 0);
    auto const closed = rises(62, c41 + 5);
    CHECK(closed.clock.next_stage() == 2);
    CHECK(closed.clock.warm_now());
    // From 1 K above the limit on a step counts: it comes to 5 K in 27.3 min, of which the last 21 or so.
    CHECK_THAT(closed.clock.warm_again_s(), WithinAbs(21.5 * minute, 1.5 * minute));
    CHECK(closed.answer() == "unknown");
    CHECK_FALSE(rises(62, c41 + 0.9).clock.warm_now());
    auto cold_again = rises(62, c41 + 5);
    cold_again.line(20, c41 - 1, Warming::none);
    CHECK_FALSE(cold_again.clock.warm_now());
    CHECK(cold_again.answer() == "met");  // in all within the 6 h
    auto for_hours = rises(62, c41 + 5);
    for_hours.line(120, c41 + 5, Warming::none).line(20, c41 - 1, Warming::none);
    CHECK(for_hours.answer() == "missed");
    // What is heated on purpose is not warm for nothing.
    auto heated = cold_at_last().line(62, c41 - 0.5).line(30, c41 + 25, Warming::heated);
    CHECK(heated.clock.warm_again_s() == 0);
    auto slips = cold_at_last().line(62, c41 - 0.5).line(30, c41 + 25, Warming::heated);
    slips.line(30, c41 + 20, Warming::heated);
    CHECK(slips.clock.warm_again_s() > 20 * minute);
}

TEST_CASE("in the cold only a moved tip rises by more than a kelvin a minute and one more") {
    auto const jumps = [](double by) {
        return cold_at_last().line(90, c41 - 0.5).line(1, c41 - 0.5 + by, Warming::none);
    };
    CHECK(jumps(1.9).clock.next_stage() == 2);
    CHECK(jumps(1.9).clock.warm_now());
    CHECK(jumps(2.1).clock.next_stage() == 1);  // the true centre was warmer all the time
    CHECK_FALSE(jumps(2.1).clock.warm_now());
    CHECK(cold_at_last().line(90, c41 - 0.5).line(1, c41 + 5, Warming::heated).clock.next_stage() == 2);
}

TEST_CASE("what was not read for half an hour at most undoes no limit; longer it may have been warm again") {
    auto const at_69 = [] { return Bench(70).line(20, c135).line(100, c70 - 0.5); };
    double const passed = 20 * minute;
    auto const shorter = at_69().unread(1800, c70 - 1);
    CHECK(shorter.clock.stage(0, shorter.t, false).took_most_s < 100 * minute);
    auto const longer = at_69().unread(1801, c70 - 1);
    // It may have come down through 70 degF only just before the reading.
    CHECK_THAT(longer.clock.stage(0, longer.t, false).took_most_s,
               WithinAbs(longer.t - 1 / fastest_core_k_per_s - passed, 1));
    CHECK(longer.clock.stage(0, longer.t, false).answer == CoolingAnswer::unknown);
    auto const far = at_69().line(60, c70 - 10).unread(2400, c70 - 10, 0.004);  // cannot come to 1 K above it
    CHECK(far.clock.stage(0, far.t, false).answer == CoolingAnswer::met);
}

TEST_CASE(
    "what fell below the limit and was warmed again is carried over, unless 165 degF for 15 s came within 4 "
    "h") {
    double const c165 = from_fahrenheit(165);
    auto const dip = [&](double minutes_below, double peak) {
        return Bench(70).line(20, c135 - 0.01).line(minutes_below, c135 - 0.01).line(1, peak);
    };
    CHECK(dip(30, c135 + 1).clock.carried_most_s() > 29 * minute);
    CHECK(dip(30, c135 + 1).clock.carried_least_s() > 29 * minute);
    CHECK(dip(30, c135 + 1).clock.fell_before());
    CHECK_FALSE(dip(30, c135 + 1).clock.running());
    CHECK(dip(30, c165).line(1, c165).clock.carried_most_s() == 0);
    CHECK(dip(30, c165 - 0.6).line(10, c165 - 0.6).clock.carried_most_s() > 29 * minute);
    // 14 s and 16 s at 165 degF.
    auto const held = [&](double seconds) {
        auto bench = dip(30, c165 - 1);
        bench.clock.add({bench.t, c165, bench.t + seconds, c165}, false, Warming::heated);
        return bench.clock.carried_most_s();
    };
    CHECK(held(14) > 0);
    CHECK(held(16) == 0);
    // Later than 4 h after it first fell it no longer counts; the 2 h are missed by then anyway.
    auto late = Bench(70).line(20, c135 - 0.01).line(110, c135 - 0.01).line(1, c135 + 1);
    late.line(120, c135 + 1).line(4, c165).line(5, c165);
    CHECK(late.clock.carried_most_s() == 0);
    late = Bench(70).line(20, c135 - 0.01).line(110, c135 - 0.01).line(1, c135 + 1);
    late.line(140, c135 + 1).line(4, c165).line(5, c165);
    CHECK(late.clock.carried_most_s() > 109 * minute);
}

TEST_CASE("a crossing is no better than a twentieth of a second") {
    auto const first_stage = [](double seconds) {
        CoolingClock clock(*cooling_rule("food-code"));
        clock.first(0, c135);
        clock.add({0, c135, seconds, c70}, false);
        return clock.stage(0, seconds, false).answer;
    };
    CHECK(first_stage(7200) == CoolingAnswer::met);
    CHECK(first_stage(7200.04) == CoolingAnswer::met);
    CHECK(first_stage(7200.2) == CoolingAnswer::missed);
}

TEST_CASE("not read at the end, it may have fallen or risen unseen") {
    Bench hot(70);
    hot.line(10, 60);
    CHECK(hot.answer() == "not-applicable");
    CHECK(to_word(hot.clock.answer(hot.t + 1, true)) == "not-applicable");  // not so fast
    CHECK(to_word(hot.clock.answer(hot.t + 600, true)) == "unknown");
    Bench cold(4);
    cold.line(10, 4);
    CHECK(to_word(cold.clock.answer(cold.t + 600, true)) == "unknown");
    CHECK(to_word(cold.clock.answer(cold.t + 600, true, 45)) == "not-applicable");  // not in the cold
    CHECK(to_word(cold.clock.answer(cold.t + 60, true)) == "not-applicable");
    // Running and blind: 34 K above 70 degF it needs 102 s at least.
    auto const slow = Bench(70).line(20, c135).line(118, c135 - 2),
               slower = Bench(70).line(20, c135).line(119, c135 - 2);
    CHECK(to_word(slow.clock.answer(slow.t + 200, true)) == "unknown");
    CHECK(to_word(slower.clock.answer(slower.t + 200, true)) == "missed");
    CHECK(to_word(slower.clock.answer(slower.t + 62, false)) ==
          "unknown");  // it is read, and not certain yet
    auto const over = Bench(70).line(20, c135).line(121, c135 - 2);
    CHECK(over.answer() == "missed");
}

TEST_CASE("a recording that begins with a minute's silence is whole, with more it is not") {
    auto const begins = [](double silent_s) {
        std::vector<FoodSample> series{{0, std::nullopt}};
        for (double t = silent_s; t <= 3600; t += 10) series.push_back({t, 30.0 - 20 * t / 3600});
        return to_word(cooling_of(series, *cooling_rule("food-code")).answer);
    };
    std::vector<FoodSample> cold{{0, std::nullopt}};
    auto const from = [](double silent_s) {
        std::vector<FoodSample> series{{0, std::nullopt}};
        for (double t = silent_s; t <= silent_s + 3600; t += 10) series.push_back({t, 4.0});
        return std::string(to_word(cooling_of(series, *cooling_rule("food-code")).answer));
    };
    CHECK(from(60) == "not-applicable");
    CHECK(from(200) == "unknown");  // 57 degC and back in 200 s: at a third of a kelvin a second
    CHECK(begins(10) == "unknown");
}

TEST_CASE("the limit as it is printed in degC starts the clock too: 57 degC beside 135 degF") {
    for (auto const& rule : cooling_rules()) {
        INFO(rule.word);
        double const printed = rule.printed_start_c;
        auto const peaks = [&](double peak) {
            return Bench(20, rule.word).line(60, peak).line(10, peak - 5);
        };
        CHECK(peaks(printed).clock.running());
        CHECK(peaks(printed).clock.cooked());
        CHECK_FALSE(peaks(printed - 0.01).clock.running());
        CHECK(peaks(printed - 0.01).answer() == "not-applicable");
        // From the printed one if it came no higher, else from the one in degF.
        auto const start = [&](double peak) {
            auto bench = Bench(20, rule.word).line(60, peak);
            bench.clock.add({3600, peak, 3600 + 1000, peak - 10}, false);
            return bench.clock.start_latest_s() - 3600;
        };
        CHECK_THAT(start(printed + 0.04), WithinAbs(4, 0.01));
        CHECK_THAT(start(rule.start_c() + 0.5), WithinAbs(50, 0.01));
    }
}

TEST_CASE(
    "not read at the end for more than half an hour, what was not cold for an hour may have been warm "
    "again") {
    auto const cold_for = [](double minutes) {
        return Bench(70).line(20, c135).line(60, c70 - 1).line(200, c41 - 1).line(minutes, c41 - 1);
    };
    auto const later = [](Bench const& bench, double seconds, double cap = 45) {
        return to_word(bench.clock.answer(bench.t + seconds, true, cap));
    };
    auto const shortly = cold_for(30), for_good = cold_for(62);
    CHECK(later(shortly, 1800) == "met");
    CHECK(later(shortly, 1801) == "unknown");
    CHECK(shortly.clock.may_have_risen(shortly.t + 1801, true));
    CHECK_FALSE(shortly.clock.may_have_risen(shortly.t + 1801, false));
    // Nothing around it is so warm that it passes a limit by a kelvin; through the last one there is time
    // left.
    CHECK(later(shortly, 1801, c41 + 1) == "met");
    CHECK(later(shortly, 1801, c41 + 1.1) == "met");
    CHECK(later(shortly, 4199, c41 + 1.1) == "met");
    CHECK(later(shortly, 4201, c41 + 1.1) == "unknown");
    CHECK(later(for_good, 24 * 3600) == "met");
}
