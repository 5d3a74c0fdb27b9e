// The cooling rules at their limits, and the clock that keeps them.
#include <cmath>
#include <random>

#include "config/load.hpp"
#include "daemon/food/calculate.hpp"
#include "daemon/food/classes.hpp"
#include "daemon/food/cooling.hpp"
#include "daemon/food/outlook.hpp"
#include "tests/support/catch.hpp"
#include "tests/unit/daemon/food/ledger_bench.hpp"

using namespace ingle;

namespace {

constexpr double minute = 60;

struct Point {
    double minutes, fahrenheit;
};
std::vector<FoodSample> points(std::vector<Point> const& given) {
    std::vector<FoodSample> series;
    for (auto const& p : given) series.push_back({p.minutes * minute, from_fahrenheit(p.fahrenheit)});
    return series;
}
// The same with a reading every `step_s` on the straight lines between.
std::vector<FoodSample> filled(std::vector<FoodSample> const& given, double step_s) {
    std::vector<FoodSample> series;
    for (std::size_t i = 0; i + 1 < given.size(); ++i) {
        auto const &a = given[i], &b = given[i + 1];
        for (double t = a.t_s; t < b.t_s - 1e-9; t += step_s)
            series.push_back({t, *a.celsius + (*b.celsius - *a.celsius) * (t - a.t_s) / (b.t_s - a.t_s)});
    }
    series.push_back(given.back());
    return series;
}
std::string judge(std::vector<FoodSample> const& series, std::string_view rule = "food-code") {
    return std::string(to_word(cooling_of(series, *cooling_rule(rule)).answer));
}

// F14: a big pot in a cold room, minutes and degC.
std::vector<FoodSample> big_pot() {
    std::vector<FoodSample> series;
    for (auto [m, c] :
         {std::pair{0., 90.}, {60, 68}, {120, 57}, {180, 48}, {240, 41}, {360, 31}, {540, 20}, {720, 13}})
        series.push_back({m * minute, c});
    return series;
}

}  // namespace

// FDA Food Code 3-501.14(A): within 2 h from 135 to 70 degF, and within a total of 6 h from 135 to 41 degF.
TEST_CASE("Food Code: both limits are inclusive, and the second counts from 135 degF") {
    auto const pot = [](double to_70, double to_41) {
        return filled(points({{0, 160}, {25, 135}, {25 + to_70, 70}, {25 + to_41, 41}, {30 + to_41, 40}}),
                      60);
    };
    CHECK(judge(pot(120, 360)) == "met");
    CHECK(judge(pot(121, 360)) == "missed");
    CHECK(judge(pot(120, 361)) == "missed");
    // A fast first stage leaves the second one more time than 4 h.
    CHECK(judge(pot(30, 360)) == "met");
    // A kitchen that thinks in Celsius begins its log at the printed 57 degC.
    CHECK(judge(filled({{0, 57.0}, {7200, 21.0}, {21600, 5.0}}, 60)) == "met");
    CHECK(judge(filled({{0, 57.0}, {7320, 21.1112}, {21600, 5.0}}, 60)) == "missed");
}

TEST_CASE("what is not over is not met, and what never was hot is not judged") {
    CHECK(judge(filled(points({{0, 160}, {20, 135}, {80, 70}, {100, 60}}), 60)) == "unknown");
    CHECK(judge(filled(points({{0, 160}, {20, 135}, {141, 100}}), 60)) ==
          "missed");  // 2 h 01 min and still 100
    CHECK(judge(filled(points({{0, 38}, {300, 39}}), 60)) == "not-applicable");
    CHECK(judge(filled(points({{0, 38}, {200, 165}}), 60)) == "not-applicable");  // taken out to be eaten
    CHECK(judge({}) == "unknown");
    CHECK(judge({{0, {}}, {60, {}}}) == "unknown");
    // Warm at the first reading: somebody cooked it, when it left 135 degF nobody saw.
    CHECK(judge(filled(points({{0, 120}, {60, 70}, {120, 41}}), 60)) == "unknown");
    CHECK(judge(filled(points({{0, 120}, {130, 72}, {200, 41}}), 60)) == "missed");
}

TEST_CASE("the clock starts at the last crossing, and a miss is not forgotten") {
    // Held hot, a dip under 135 degF for a while, hot again, then cooled in time.
    CHECK(judge(filled(points({{0, 150}, {30, 130}, {60, 150}, {75, 135}, {175, 70}, {415, 41}}), 60)) ==
          "met");
    // The quarter of an hour of the dip counts: with it the 2 h are over.
    CHECK(judge(filled(points({{0, 150}, {30, 130}, {60, 150}, {75, 135}, {195, 70}, {415, 41}}), 60)) ==
          "unknown");
    // Under it for 3 h without coming to 70 degF: missed, whatever is done later.
    CHECK(judge(filled(
              points({{0, 150}, {10, 134}, {190, 134}, {200, 165}, {230, 135}, {300, 70}, {400, 41}}), 60)) ==
          "missed");
    auto const pot = cooling_of(big_pot(), *cooling_rule("food-code"));
    CHECK(pot.answer == CoolingAnswer::missed);
    // By hand: 68 to 57 degC in an hour: 57.22 degC is passed 58.79 min after the 68; 21.11 degC between 31
    // (360 min) and 20 (540 min): 360 + 180 * 9.889 / 11 = 521.82 min.
    CHECK_THAT(pot.clock.start_latest_s() / minute, WithinAbs(118.788, 0.001));
    CHECK_THAT(pot.clock.stage(0, pot.end_s, false).took_least_s / minute,
               WithinAbs(521.818 - 118.788, 0.001));
}

TEST_CASE("FSIS Appendix B (1999): the options that were read") {
    auto const roll = [](double to_80, double to_40) {
        return filled(points({{0, 160}, {30, 130}, {30 + to_80, 80}, {30 + to_80 + to_40, 40}}), 60);
    };
    CHECK(judge(roll(90, 300), "fsis") == "met");
    CHECK(judge(roll(91, 300), "fsis-1") == "missed");
    CHECK(judge(roll(90, 301), "fsis-1") == "missed");
    CHECK(judge(roll(91, 300), "fsis-3") == "met");  // cured: 5 h and 10 h
    // Option 2 goes on to 40 degF, and is sure only where 120 to 80 degF took an hour at most.
    CHECK(judge(filled(points({{0, 160}, {30, 120}, {90, 80}, {390, 55}}), 60), "fsis-2") == "unknown");
    CHECK(judge(filled(points({{0, 160}, {30, 120}, {90, 80}, {390, 55}, {600, 40}}), 60), "fsis-2") ==
          "met");
    CHECK(judge(filled(points({{0, 160}, {30, 120}, {91, 80}, {390, 55}, {600, 40}}), 60), "fsis-2") ==
          "unknown");
    CHECK(judge(filled(points({{0, 160}, {30, 120}, {90, 80}, {390, 54}, {4700, 54}}), 60), "fsis-2") ==
          "unknown");
    CHECK(judge(filled(points({{0, 160}, {30, 120}, {391, 55}, {400, 50}}), 60), "fsis-2") == "missed");
    CHECK(cooling_rule("fsis") == cooling_rule("fsis-1"));
    CHECK(cooling_rule("other") == nullptr);
}

TEST_CASE("a gap makes an answer less certain, never better") {
    auto const whole = filled(points({{0, 160}, {25, 135}, {125, 70}, {325, 41}, {400, 38}}), 60);
    REQUIRE(judge(whole) == "met");
    auto const without = [](std::vector<FoodSample> series, double from, double to) {
        for (auto& s : series)
            if (s.t_s > from * minute && s.t_s < to * minute) s.celsius.reset();
        return series;
    };
    CHECK(judge(without(whole, 130, 155)) == "met");      // so soon it is not warm again
    CHECK(judge(without(whole, 130, 300)) == "unknown");  // it may have been above 70 degF again
    CHECK(judge(without(whole, 395, 399)) == "met");
    CHECK(judge(without(whole, 10, 130)) == "met");       // even the worst start and end are in time
    CHECK(judge(without(whole, 10, 160)) == "unknown");   // 70 degF may have been passed after 2 h
    CHECK(judge(without(whole, 300, 500)) == "unknown");  // the end was not seen
    auto const slow = filled(points({{0, 160}, {25, 135}, {200, 70}, {380, 41}}), 60);
    CHECK(judge(without(slow, 150, 160)) == "missed");
    CHECK(judge(without(slow, 100, 300)) == "unknown");
    // Cold before and after, and in between long enough to have been cooked: unknown, not "not-applicable".
    CHECK(judge(without(filled(points({{0, 38}, {300, 80}}), 60), 10, 200)) == "unknown");
}

TEST_CASE("random coolings: gaps, finer sampling, a shifted clock and units") {
    std::mt19937 random(7);
    auto const any = [&](double low, double high) {
        return low + (high - low) * static_cast<double>(random()) / 4294967295.0;
    };
    // 0 met, 1 unknown, 2 missed or not applicable: a gap may only move an answer to 1.
    for (int run = 0; run < 300; ++run) {
        double t = 0;
        std::vector<FoodSample> base{{0, any(60, 90)}};
        for (double f : {135.0, any(70, 130), 70.0, any(42, 69), 41.0, any(33, 40)}) {
            t += any(5, 110) * minute;
            base.push_back({t, from_fahrenheit(f)});
        }
        auto const series = filled(base, 60);
        auto const answer = judge(series);
        REQUIRE(answer != "not-applicable");
        CHECK(judge(filled(base, 20)) == answer);
        auto shifted = series;
        for (auto& s : shifted) s.t_s += 1e6;
        CHECK(judge(shifted) == answer);
        auto converted = series;
        for (auto& s : converted) s.celsius = from_fahrenheit(to_fahrenheit(*s.celsius));
        CHECK(judge(converted) == answer);
        auto holed = series;
        double const from = any(0, t), to = from + any(5, 200) * minute;
        for (auto& s : holed)
            if (s.t_s > from && s.t_s < to) s.celsius.reset();
        auto const hidden = judge(holed);
        CHECK((hidden == answer || hidden == "unknown"));
    }
}

TEST_CASE("the outlook says early that a big pot will be late, while an ice bath still helps") {
    // F14, 30 min after the start: 52.5 degC, falling 9 K an hour; truly at 21.11 degC 371.8 min later.
    auto const ahead =
        cooling_sentence(cooling_of(big_pot(), *cooling_rule("food-code")), TemperatureUnit::celsius);
    CHECK_THAT(ahead, INGLE_CONTAINS("57.2 degC"));
    CHECK_THAT(ahead, INGLE_CONTAINS("6 h 43 min"));  // 521.82 - 118.79 min
}

TEST_CASE("where each limit is met and the answer is not, the sentence says why") {
    std::vector<FoodSample> series;
    test::Curve const twice{
        {{0, 70}, {30, 55}, {200, 28}, {260, 70}, {300, 55}, {340, 20}, {400, 3}, {500, 3}}};
    for (double t = 0; t <= twice.end(); t += 60) series.push_back({t, twice(t)});
    auto const cooled = cooling_of(series, *cooling_rule("food-code"));
    REQUIRE(cooled.answer == CoolingAnswer::missed);
    auto const why = cooling_sentence(cooled, TemperatureUnit::celsius);
    CHECK_THAT(why, INGLE_CONTAINS("missed once already") && INGLE_CONTAINS("was warmed again"));
}

TEST_CASE("a kitchen file knows the same cooling rules as the food") {
    auto const file = [](std::string_view rule) {
        return "[kitchen]\nname = \"hall\"\nunits = \"degC\"\naltitude = \"0 m\"\ncooling-rule = \"" +
               std::string(rule) + "\"\n";
    };
    for (auto const& rule : cooling_rules())
        CHECK(parse_kitchen(file(rule.word), "kitchen.toml").errors.empty());
    CHECK(parse_kitchen(file("fsis"), "kitchen.toml").errors.empty());
    auto const errors = parse_kitchen(file("fsis-9"), "kitchen.toml").errors;
    REQUIRE(errors.size() == 1);
    CHECK_THAT(errors[0].text(), INGLE_CONTAINS("kitchen.toml:5:") && INGLE_CONTAINS("\"fsis-3\""));
}

TEST_CASE("what surrounds the food goes up and down with its compressor: the mean does not") {
    RecentMean around;
    CHECK_FALSE(around.celsius());
    around.add(0, 70);
    CHECK_THAT(around.celsius().value(), WithinAbs(70, 1e-9));
    around.add(60, 3.7);  // another place
    CHECK_THAT(around.celsius().value(), WithinAbs(3.7, 1e-9));
    for (double t = 70; t < 7200; t += 10) {
        around.add(t, 3.7 + 1.1 * std::sin(2 * 3.14159265 * t / 600));
        INFO(t);
        CHECK_THAT(around.celsius().value(), WithinAbs(3.7, 0.25));
    }
    around.clear();
    CHECK_FALSE(around.celsius());
}
