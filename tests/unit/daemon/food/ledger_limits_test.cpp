// Where each alarm of a dish begins: just before its limit nothing is told, just after it something is.
// Published limits stand in classes_test.cpp with their sources; shares, look-ahead and delays are our own
// judgement, and are held here as the documentation has them.
#include "tests/support/catch.hpp"
#include "tests/unit/daemon/food/ledger_bench.hpp"

using namespace ingle;
using namespace ingle::test;

namespace {

constexpr double hour = 3600, minute = 60;

// A dish in one phase along one curve, read every `every` s, until so many hours.
FoodLedger along(std::string food, FoodPhase phase, Curve const& curve, double until_s, double every = 30,
                 std::optional<double> room_c = {}) {
    FoodLedger ledger(dish(std::move(food)), zero);
    ledger.stage(at(0), phase);
    for (double t = 0; t <= until_s + 1e-9; t += every) {
        if (room_c) ledger.medium(at(t), *room_c, Quality::good);
        ledger.take(at(t), 0, curve(t), Quality::good);
    }
    ledger.advance(at(until_s + CoreEvidence::hold_s));
    return ledger;
}

FoodConcern told(std::string_view alarm, std::string food, FoodPhase phase, Curve const& curve,
                 double until_s, double every = 30, std::optional<double> room_c = {}) {
    return concern(along(std::move(food), phase, curve, until_s, every, room_c), alarm);
}

}  // namespace

TEST_CASE("danger zone: a word at three quarters of the two hours, and thrown away after them") {
    Curve const still{{{0, 25}, {600, 25}}};
    auto const after = [&](double hours) {
        return told("danger-zone", "stock", FoodPhase::waiting, still, hours * hour);
    };
    CHECK(after(1.45).truth == Holds::no);
    CHECK(after(1.55).truth == Holds::yes);
    CHECK(after(1.55).priority == Priority::medium);
    CHECK(after(1.95).priority == Priority::medium);
    CHECK(after(2.05).priority == Priority::high);
    CHECK(after(2.05).action == Action::discard);
}

TEST_CASE("danger zone: above 90 degF in the room one hour, but a hot oven is no room") {
    Curve const still{{{0, 25}, {600, 25}}};
    auto const in = [&](double room_f, double hours) {
        return told("danger-zone", "stock", FoodPhase::waiting, still, hours * hour, 30, (room_f - 32) / 1.8);
    };
    CHECK(in(91, 0.95).truth == Holds::no);
    CHECK(in(91, 1.05).priority == Priority::high);
    CHECK(in(91, 1.05).action == Action::discard);
    CHECK(in(89, 1.05).truth == Holds::no);
    CHECK(in(138, 1.05).priority == Priority::high);
    CHECK(in(142, 1.05).truth == Holds::no);  // 60 degC and more around it is being heated
    CHECK(told("danger-zone", "stock", FoodPhase::resting, still, 1.05 * hour, 30, 35).priority ==
          Priority::high);
    CHECK(told("danger-zone", "stock", FoodPhase::cooking, still, 1.05 * hour, 30, 35).truth == Holds::no);
}

TEST_CASE("danger zone while heated: told at half of the four hours if it will not be through in time") {
    // 4 degC is left at 4.44: so slowly it takes half a day; 14 K an hour is through after four hours and a
    // bit.
    Curve const slow{{{0, 4.5}, {1200, 94.5}}}, quick{{{0, 4.5}, {210, 64.5}}};
    auto const after = [&](Curve const& curve, double hours) {
        return told("danger-zone", "whole-meat", FoodPhase::cooking, curve, hours * hour);
    };
    CHECK(after(slow, 1.95).truth == Holds::no);
    CHECK(after(slow, 2.05).priority == Priority::medium);
    CHECK(after(slow, 2.05).action == Action::raise_heat);
    CHECK(after(slow, 3.95).priority == Priority::medium);
    CHECK(after(slow, 4.05).priority == Priority::high);
    CHECK(after(quick, 2.5).truth == Holds::no);
    // It needs 3 h 54 min, or 4 h 6 min, to 60 degC.
    CHECK(after(Curve{{{0, 4.5}, {234, 60}, {300, 76}}}, 3).truth == Holds::no);
    CHECK(after(Curve{{{0, 4.5}, {246, 60}, {300, 73}}}, 3).priority == Priority::medium);
    // What falls by more than a kelvin an hour is not being heated.
    CHECK(after(Curve{{{0, 40}, {600, 28}}}, 2.05).action == Action::none);
    CHECK(after(Curve{{{0, 40}, {600, 32}}}, 2.05).action == Action::raise_heat);
    CHECK(after(Curve{{{0, 10}, {60, 30}, {600, 18}}}, 3.95).action == Action::none);
    CHECK(after(Curve{{{0, 10}, {60, 30}, {600, 18}}}, 4.05).action == Action::discard);
}

TEST_CASE("overshoot: above the stage's limit, or there within five minutes at its rate") {
    Curve const rise{{{0, 50}, {60, 110}}};  // a kelvin a minute
    auto const at_c = [&](double c, std::optional<double> limit = 70) {
        FoodLedger ledger(thin_dish("whole-meat"), zero);
        ledger.stage(at(0), FoodPhase::cooking, {}, limit);
        feed(ledger, rise, 0, (c - 50) * minute, 10);
        return concern(ledger, "overshoot-risk").truth;
    };
    CHECK(at_c(64.7) == Holds::no);
    CHECK(at_c(65.3) == Holds::yes);
    CHECK(at_c(70.5) == Holds::yes);
    CHECK(at_c(70.5, {}) == Holds::no);
    FoodLedger still(dish("whole-meat"), zero);
    still.stage(at(0), FoodPhase::cooking, {}, 70);
    feed(still, Curve{{{0, 70}, {60, 70}}}, 0, 600, 10);
    CHECK(concern(still, "overshoot-risk").truth == Holds::no);  // at the limit
    FoodLedger falls(dish("whole-meat"), zero);
    falls.stage(at(0), FoodPhase::cooking, {}, 70);
    feed(falls, Curve{{{0, 69.9}, {60, 60}}}, 0, 600, 10);
    CHECK(concern(falls, "overshoot-risk").truth == Holds::no);
}

TEST_CASE("the class's target is told once it was seen for ten seconds") {
    // 165 degF = 73.889 degC is passed after 8333.3 s.
    Curve const rise{{{0, 60}, {140, 74}, {300, 90}}};
    auto const until = [&](double s) {
        return told("core-target", "whole-poultry", FoodPhase::cooking, rise, s, 1).truth;
    };
    CHECK(until(8341) == Holds::no);
    CHECK(until(8346) == Holds::yes);
}

TEST_CASE("met is the target with its hold: 165 degF for 15 s, 145 degF for 3 min") {
    auto const answer = [](std::string food, double f, double held_s) {
        double const c = from_fahrenheit(f);
        // Up to the target, held for so long, and down again.
        double const minutes = held_s / 60;
        Curve const curve{
            {{0, c - 30}, {60, c - 0.5}, {70, c + 0.01}, {70 + minutes, c + 0.01}, {75 + minutes, c - 4}}};
        FoodLedger ledger(dish(std::move(food)), zero);
        ledger.stage(at(0), FoodPhase::cooking);
        feed(ledger, curve, 0, curve.end() + 60, 1);
        return verdict(ledger, "core-target").answer;
    };
    CHECK(answer("whole-meat", 145, 160) == "not reached");
    CHECK(answer("whole-meat", 145, 180) == "met");
    CHECK(answer("ground-meat", 160, 2) == "met");
    CHECK(answer("ground-meat", 159.8, 600) == "not reached");
}

TEST_CASE("on its way up is what is within three kelvins of its peak") {
    auto const falls_by = [](double k) {
        return verdict(along("whole-meat", FoodPhase::cooking,
                             Curve{{{0, 10}, {120, 50}, {140, 50 - k}, {300, 50 - k}}}, 150 * minute),
                       "core-target")
            .answer;
    };
    CHECK(falls_by(2.8) == "not reached so far");
    CHECK(falls_by(3.2) == "not reached");
}

TEST_CASE("a value that is a tenth of a degree Fahrenheit is that tenth, as the logbook keeps it") {
    auto const peak = [](double c) {
        FoodLedger ledger(dish("ground-meat"), zero);
        ledger.stage(at(0), FoodPhase::cooking);
        feed(ledger, Curve{{{0, 60}, {60, c}, {300, c}}}, 0, 120 * minute, 30);
        return *ledger.summary().peak_core_c;
    };
    CHECK_THAT(peak(71.111), WithinAbs(from_fahrenheit(160), 1e-9));
    CHECK_THAT(peak(71.1114), WithinAbs(from_fahrenheit(160), 1e-9));
    CHECK_THAT(peak(71.109), WithinAbs(71.109, 1e-9));
    CHECK_THAT(peak(71.1132), WithinAbs(71.113, 1e-9));
    CHECK_THAT(peak(71.1128), WithinAbs(71.113, 1e-9));
}

TEST_CASE("cold holding: a core ten minutes above the limit, the air half an hour") {
    Curve const warms{{{0, 3}, {60, 3}, {61, 6}, {600, 6}}};  // 4.44 degC is passed after 60 min 29 s
    auto const core = [&](double minutes) {
        return told("cold-hold", "stock", FoodPhase::cold_holding, warms, (60.5 + minutes) * minute).truth;
    };
    CHECK(core(9) == Holds::no);
    CHECK(core(11) == Holds::yes);
    auto const air = [&](double minutes) {
        FoodLedger ledger(dish("stock", 0), zero);
        ledger.stage(at(0), FoodPhase::cold_holding);
        for (double t = 0; t <= (60.5 + minutes) * minute; t += 30)
            ledger.medium(at(t), warms(t), Quality::good);
        return concern(ledger, "cold-hold").truth;
    };
    CHECK(air(29) == Holds::no);
    CHECK(air(31) == Holds::yes);
}

// FoodSafety.gov: above 40 degF for more than 2 h. Food Code 3-501.14(B): made up warm, cold within 4 h.
TEST_CASE("cold holding: more than two hours in a day are thrown away, and never cold within four hours") {
    Curve const warms{{{0, 3}, {60, 3}, {61, 6}, {600, 6}}};
    auto const after = [&](double minutes) {
        return told("cold-hold", "stock", FoodPhase::cold_holding, warms, (60.5 + minutes) * minute);
    };
    CHECK(after(118).action == Action::chill);
    CHECK(after(122).action == Action::discard);
    CHECK(after(122).priority == Priority::high);
    Curve const never{{{0, 12}, {600, 11}}};
    auto const warm = [&](double hours) {
        return told("cold-hold", "stock", FoodPhase::cold_holding, never, hours * hour);
    };
    CHECK(warm(3.9).truth == Holds::no);
    CHECK(warm(4.1).truth == Holds::yes);
    auto const day = [&](double hours) {
        return verdict(along("stock", FoodPhase::cold_holding, never, hours * hour), "cold-hold-2h").answer;
    };
    CHECK(day(1.9) == "met");
    CHECK(day(2.1) == "unknown");
    CHECK(day(3.9) == "unknown");
    CHECK(day(4.1) == "missed");
}

TEST_CASE("hot holding: below 140 more heat, below 135 heat it through, after two hours throw it away") {
    auto const falls_to = [](double f, double hours) {
        double const c = from_fahrenheit(f);
        return told("hot-hold", "stock", FoodPhase::hot_holding,
                    Curve{{{0, 66}, {30, 66}, {60, c}, {600, c}}}, 1.0 * hour + hours * hour);
    };
    CHECK(falls_to(140.1, 0.5).truth == Holds::no);
    CHECK(falls_to(139, 0.5).truth == Holds::yes);
    CHECK(falls_to(139, 0.5).priority == Priority::medium);
    CHECK(falls_to(139, 0.5).action == Action::raise_heat);
    CHECK(falls_to(135, 0.5).action == Action::raise_heat);  // inclusive
    CHECK(falls_to(134.8, 0.5).priority == Priority::high);
    CHECK(falls_to(134.8, 0.5).action == Action::reheat);
    CHECK(falls_to(139, 1.9).action == Action::raise_heat);
    CHECK(falls_to(139, 2.1).action == Action::discard);
    // Put there at 50 degC it has two hours.
    auto const waits = [](double hours) {
        return told("hot-hold", "stock", FoodPhase::hot_holding, Curve{{{0, 50}, {600, 52}}}, hours * hour);
    };
    CHECK(waits(1.95).truth == Holds::no);
    CHECK(waits(2.05).action == Action::discard);
}

TEST_CASE("cooling: nothing is forecast in the first ten minutes") {
    // 57.2 degC is passed after 60 min; at 6 K an hour 70 degF is six hours away.
    Curve const slow{{{0, 63.222}, {600, 3.222}}};
    auto const after = [&](double minutes) {
        return told("cooling-late", "stock", FoodPhase::chilling, slow, (60 + minutes) * minute);
    };
    CHECK(after(9).truth == Holds::no);
    CHECK(after(11).truth == Holds::yes);
    CHECK(after(11).priority == Priority::medium);
    CHECK(after(119).priority == Priority::medium);
    CHECK(after(122).priority == Priority::high);
    CHECK(after(122).action == Action::discard);
}

TEST_CASE(
    "reheating: a word at half of the two hours if it will not be in time, and thrown away after them") {
    Curve const slow{{{0, 6}, {600, 106}}}, quick{{{0, 6}, {110, 75}, {200, 80}}};
    auto const after = [&](Curve const& curve, double minutes) {
        return told("reheat-late", "leftover", FoodPhase::reheating, curve, minutes * minute);
    };
    CHECK(after(slow, 58).truth == Holds::no);
    CHECK(after(slow, 62).priority == Priority::medium);
    CHECK(after(slow, 62).action == Action::reheat);
    CHECK(after(slow, 118).action == Action::reheat);
    CHECK(after(slow, 122).action == Action::discard);
    CHECK(after(slow, 122).priority == Priority::high);
    CHECK(after(quick, 100).truth == Holds::no);
}

TEST_CASE("no reading of the cold for four hours: thrown away if the power was off") {
    auto const away = [](double hours) {
        FoodLedger ledger(dish("whole-poultry", 0), zero);
        ledger.stage(at(0), FoodPhase::cold_holding);
        ledger.medium(at(0), 3, Quality::good);
        ledger.medium(at(60), 3, Quality::good);
        ledger.medium(at(60 + hours * hour), 3, Quality::good);
        return concern(ledger, "discard").truth;
    };
    CHECK(away(3.99) == Holds::no);
    CHECK(away(4) == Holds::yes);
}
