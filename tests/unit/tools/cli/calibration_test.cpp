// What a calibration is made from: when a reading counts as steady, and which points are believed.
#include "tools/cli/probe/calibration.hpp"

#include <cmath>
#include <random>

#include "daemon/conditioning/calibrate.hpp"
#include "tests/support/catch.hpp"
#include "tests/support/rows.hpp"
#include "tools/cli/probe/bath.hpp"

using namespace ingle;
using namespace ingle::cli;

namespace {

std::vector<Sample> line(double from, double per_minute, double seconds, double noise = 0, double step = 0) {
    std::mt19937 random(7);
    std::normal_distribution<> error(0, noise > 0 ? noise : 1);
    std::vector<Sample> samples;
    for (double s = 0; s <= seconds; s += 1) {
        double c = from + per_minute * s / 60 + (noise > 0 ? error(random) : 0);
        if (step > 0) c = step * std::round(c / step);
        samples.push_back({s, c});
    }
    return samples;
}

}  // namespace

// field case F19
TEST_CASE("an ice bath counts when it is steady: 3.6 and still falling is not") {
    auto const falling = steadiness(line(3.6, -0.2, 600), steady_for_s);
    CHECK_FALSE(falling.steady);
    CHECK(falling.why_not == "still falling by 0.20 degC a minute");
    CHECK_THAT(steadiness(line(3.6, -0.2, 600), steady_for_s, TemperatureUnit::fahrenheit).why_not,
               INGLE_CONTAINS("0.36 degF"));
    auto const still = steadiness(line(-5.5, 0, 600, 0.05, 0.25), steady_for_s);
    CHECK(still.steady);
    CHECK_THAT(still.celsius, WithinAbs(-5.5, 0.05));
    CHECK_THAT(still.lasted_s, WithinAbs(180, 0.5));
    CHECK(still.count == 181);
    // A chip that counts in quarters, on the edge between two: still steady. Three minutes are three minutes.
    CHECK(steadiness(line(0.12, 0, 600, 0.08, 0.25), steady_for_s).steady);
    CHECK(steadiness(line(0.1, 0, 100, 0.05), steady_for_s).why_not == "steady for 100 s so far");
    CHECK(steadiness({}, steady_for_s).why_not == "no reading yet");
    CHECK_THAT(steadiness(line(40, 0, 600, 1.0), steady_for_s).why_not, INGLE_CONTAINS("restless"));
    // One reading a minute: five of them are waited for, however short the time asked for.
    std::vector<Sample> slow;
    for (int minute = 0; minute < 5; ++minute) {
        CHECK_FALSE(steadiness(slow, 5).steady);
        slow.push_back({minute * 60.0, 20.0});
    }
    CHECK(steadiness(slow, 5).steady);
    CHECK(steadiness(slow, 5).count == 5);
    // Only the last three minutes count: the way there does not matter.
    auto arrived = line(20, -10, 120);
    for (auto sample : line(0.25, 0, 200)) arrived.push_back({sample.at_s + 121, sample.celsius});
    CHECK(steadiness(arrived, steady_for_s).steady);
}

// field case A5
TEST_CASE("a reading that drifts with its joint is not calibrated away, and two swaps are named") {
    // A pot at 80 degC; the joint beside the stove goes from 30 to 50 degC in 40 min, the board stays at 24.
    for (double minute = 3; minute <= 40; ++minute) {
        std::vector<Sample> samples;
        for (double s = (minute - 3) * 60; s <= minute * 60; ++s)
            samples.push_back({s, 80 - 2 * (30 + 20 * s / 2400 - 24)});
        INFO("at minute " << minute);
        CHECK_FALSE(steadiness(samples, steady_for_s).steady);
    }
}

// field case F20
TEST_CASE("calibrating twice does not add up: both are made from what the bare probe reads") {
    std::vector<CalibrationPoint> const points{{{34.0}, {30.0}}};
    for (int round = 0; round < 2; ++round) {
        auto const made = calibration_from(points);
        CHECK(made.offset == -4.0);
        CHECK(made.apply(34.0) == 30.0);
    }
}

// field case A4, A6
TEST_CASE("a wrong type and swapped wires are named where a bath shows them") {
    // K probe, cold junction 22, in boiling water: with type J it reads 81.2, with type T 94.1 (see A6).
    auto const reads = [](ThermocoupleType really, ThermocoupleType set, double at, double junction) {
        auto const volts = *emf_mv(really, at) - *emf_mv(really, junction);
        return *compensate(set, volts, junction);
    };
    using enum ThermocoupleType;
    CHECK_THAT(reads(K, J, 95, 22), WithinAbs(79.0, 0.5));
    CHECK(suspicion(reads(K, J, 99.2, 22), 99.2, J, 22) ==
          "it reads as a type K thermocouple would where type J is set");
    CHECK(suspicion(reads(J, K, 99.2, 22), 99.2, K, 22) ==
          "it reads as a type J thermocouple would where type K is set");
    CHECK(suspicion(2 * 22 - 99.2, 99.2, K, 22) == "it reads as if + and - of the probe were swapped");
    CHECK(suspicion(98.0, 99.2, K, 22).empty());
    CHECK(suspicion(60.0, 99.2, K, 22).empty());
    CHECK(suspicion(79.0, 99.2, {}, 22).empty());
}

TEST_CASE("two points that are off alike confirm each other") {
    CHECK(confirm_each_other(std::vector<CalibrationPoint>{{{3.6}, {0}}, {{103.0}, {99.2}}}));
    CHECK_FALSE(confirm_each_other(std::vector<CalibrationPoint>{{{3.6}, {0}}, {{99.3}, {99.2}}}));
    CHECK_FALSE(confirm_each_other(std::vector<CalibrationPoint>{{{3.6}, {0}}}));
    CHECK(kitchen_line(std::vector<CalibrationPoint>{{{0.6}, {0}}, {{95.1}, {94.642}}},
                       TemperatureUnit::celsius) ==
          "calibration = [{ reads = \"0.60 degC\", is = \"0.00 degC\" }, { reads = \"95.10 degC\", is = "
          "\"94.64 degC\" }]");
}

TEST_CASE("baths: ice, boiling at this pressure or altitude, another probe, a reference") {
    Settings settings;
    std::vector<std::string> const names{"stock", "smoke"};
    auto const bath = [&](std::string const& text, std::string const& pressure = "") {
        return bath_of(text, {"stock", names, pressure, settings, TemperatureUnit::celsius});
    };
    CHECK(bath("ice").is == 0.0);
    CHECK(bath("smoke").reference == "smoke");
    CHECK(bath("62.5 degC").is == 62.5);
    CHECK_THROWS_AS(bath("stock"), Failure);
    CHECK_THROWS_AS(bath("steam"), Failure);
    CHECK_THROWS_AS(bath("boiling"), Failure);  // neither pressure nor altitude is known
    // IAPWS-IF97 as in tests/reference/sensing/boiling.csv: 83.5 kPa boils at 94.64 degC.
    CHECK_THAT(*bath("boiling", "835 hPa").is, WithinAbs(94.642, 0.001));
    settings.altitude = Length{240};
    CHECK_THAT(*bath("boiling").is, WithinAbs(99.2, 0.1));
    CHECK_THAT(bath("boiling").words, INGLE_CONTAINS("--pressure"));
    settings.pressure = Pressure{83'500};
    CHECK_THAT(*bath("boiling").is, WithinAbs(94.642, 0.001));
}
