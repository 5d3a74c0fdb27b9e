#include "daemon/conditioning/calibrate.hpp"

#include <vector>

#include "tests/support/catch.hpp"

using namespace ingle;

TEST_CASE("two points: the worked example for a station pressure of 83.5 kPa") {
    // Water boils at 94.642 degC there (IAPWS-IF97); the probe reads 0.6 in ice and 95.1 in boiling water.
    std::vector<CalibrationPoint> const points{{{0.6}, {0.0}}, {{95.1}, {94.642}}};
    Calibration const c = calibration_from(points);
    CHECK_THAT(c.gain, WithinAbs(1.001502, 1e-6));
    CHECK_THAT(c.offset, WithinAbs(-0.600901, 1e-6));
    double const rows[][2] = {{0.6, 0.000},   {4.0, 3.405},   {60.0, 59.489},
                              {74.0, 73.510}, {95.1, 94.642}, {121.0, 120.581}};
    for (auto const& [reads, is] : rows) CHECK_THAT(c.apply(reads), WithinAbs(is, 5e-4));
    CHECK_FALSE(doubt_about(points));
}

TEST_CASE("one point is an offset, none is nothing") {
    std::vector<CalibrationPoint> const ice{{{1.5}, {0.0}}};
    CHECK_THAT(calibration_from(ice).apply(80), WithinAbs(78.5, 1e-12));
    CHECK(calibration_from({}).apply(80) == 80);
}

TEST_CASE("points at the same reading do not divide by zero") {
    std::vector<CalibrationPoint> const same{{{50}, {51}}, {{50}, {52}}};
    CHECK_THAT(calibration_from(same).apply(10), WithinAbs(11, 1e-12));
}

TEST_CASE("doubtful points are named") {
    std::vector<CalibrationPoint> const far{{{-5.5}, {0}}};
    REQUIRE(doubt_about(far));
    CHECK_THAT(*doubt_about(far), INGLE_CONTAINS("check the bath"));
    std::vector<CalibrationPoint> const close{{{0.5}, {0}}, {{40.5}, {40}}};
    CHECK_THAT(*doubt_about(close), INGLE_CONTAINS("apart"));
    std::vector<CalibrationPoint> const bent{{{-2}, {0}}, {{62}, {60}}};
    CHECK_THAT(*doubt_about(bent), INGLE_CONTAINS("disagree"));
}
