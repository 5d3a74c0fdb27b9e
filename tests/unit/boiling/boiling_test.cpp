#include "daemon/food/boiling.hpp"

#include <cmath>
#include <string>

#include "tests/support/catch.hpp"
#include "tests/support/rows.hpp"

using namespace ingle;
using ingle::test::number;

TEST_CASE("saturation of water is IF97 to all printed digits") {
    // IAPWS R7-97(2012), tables 35 and 36.
    int seen = 0;
    for (auto const& row : test::rows("reference/sensing/boiling.csv")) {
        double const x = number(row, "x_value"), y = number(row, "y_value");
        if (row.at("record") == "if97_Tsat") {
            CHECK_THAT(saturation_temperature({x * 1e6}).value().celsius + 273.15, WithinAbs(y, 1e-6));
            ++seen;
        } else if (row.at("record") == "if97_psat") {
            CHECK_THAT(saturation_pressure({x - 273.15}).value().pascals / 1e6, WithinRel(y, 1e-8));
            ++seen;
        }
    }
    CHECK(seen == 6);
}

TEST_CASE("pressure of the standard atmosphere") {
    // US Standard Atmosphere 1976 / ISO 2533, geopotential height; printed to six digits.
    int seen = 0;
    for (auto const& row : test::rows("reference/sensing/boiling.csv")) {
        if (row.at("record") != "std_atmosphere_geopotential") continue;
        double const h = number(row, "x_value"), p = number(row, "y_value");
        CHECK_THAT(standard_pressure(Length{h}).value().pascals, WithinAbs(p, 0.6));
        CHECK_THAT(standard_altitude(Pressure{p}).value().metres, WithinAbs(h, 0.1));
        ++seen;
    }
    CHECK(seen > 40);
}

TEST_CASE("boiling points that authorities publish") {
    for (auto const& row : test::rows("reference/sensing/boiling.csv")) {
        if (row.at("record") != "boiling_vs_altitude_authority") continue;
        auto const t = boiling_point(Length{number(row, "x_value") * 0.3048}).value();
        CHECK_THAT(to_unit(t, TemperatureUnit::fahrenheit),
                   WithinAbs(number(row, "y_value"), 0.5));  // whole degF
    }
    // 101325 Pa: 99.974 degC on the ITS-90 scale, not 100 (IAPWS).
    CHECK_THAT(boiling_point(Pressure{101325}).value().celsius, WithinAbs(99.974, 0.001));
}

TEST_CASE("salt raises the boiling point") {
    CHECK(salt_elevation({0}).value().kelvin == 0);
    // Measured: saturated brine, 28.46 %, boils at 108.7 degC at 1 atm (Salt Institute, chemical properties).
    CHECK_THAT(boiling_point(Pressure{101325}, {0.2846}).value().celsius, WithinAbs(108.7, 0.01));
    // Published ranges: sea water, about 3.5 %: 100.5 to 100.9 degC; about 10 %: about 102 degC.
    double const sea = boiling_point(Pressure{101325}, {0.035}).value().celsius;
    CHECK((sea > 100.5 && sea < 100.9));
    CHECK_THAT(boiling_point(Pressure{101325}, {0.10}).value().celsius, WithinAbs(102, 0.15));
    // Dilute: i Kb m by hand with i = 1.85: 10 g of salt in a kilogram of water is 0.16 K.
    CHECK_THAT(salt_elevation({10.0 / 1010.0}).value().kelvin, WithinAbs(0.16, 0.01));
}

TEST_CASE("the altitude that fits a plateau") {
    for (double metres : {-300.0, 0.0, 240.0, 1609.0, 4000.0})
        for (double salt : {0.0, 0.01, 0.06}) {
            auto const plateau = boiling_point(Length{metres}, {salt}).value();
            CHECK_THAT(altitude_of_boiling_point(plateau, {salt}).value().metres, WithinAbs(metres, 1.0));
        }
}

TEST_CASE("outside the ranges there is no answer") {
    CHECK_FALSE(saturation_temperature({600}));
    CHECK_FALSE(saturation_temperature({23e6}));
    CHECK_FALSE(saturation_temperature({std::nan("")}));
    CHECK_FALSE(saturation_pressure({-1}));
    CHECK_FALSE(saturation_pressure({374}));
    CHECK_FALSE(boiling_point(Length{12000}));
    CHECK_FALSE(boiling_point(Length{-1001}));
    CHECK_FALSE(boiling_point(Pressure{101325}, {0.30}));
    CHECK_FALSE(boiling_point(Pressure{101325}, {-0.01}));
    CHECK_FALSE(standard_altitude({0}));
    CHECK_FALSE(altitude_of_boiling_point({130}));  // 2 km under the sea
}
