#include "drivers/thermocouple/its90.hpp"

#include <cmath>
#include <map>

#include "tests/support/catch.hpp"
#include "tests/support/rows.hpp"

using namespace ingle;
using ingle::test::number;
using ingle::test::Row;

namespace {

constexpr std::string_view letters = "BEJKNRST";

ThermocoupleType type_of(Row const& row) {
    return thermocouple_type_from(row.at("type")).value();
}

// NIST's own approximate inverse, from its published coefficients.
struct Inverse {
    double emf_low, emf_high, error_low, error_high;
    std::vector<double> c;
    double operator()(double mv) const {
        double t = 0;
        for (auto k = c.rbegin(); k != c.rend(); ++k) t = t * mv + *k;
        return t;
    }
};

std::map<std::pair<std::string, std::string>, Inverse> published_inverses() {
    std::map<std::pair<std::string, std::string>, Inverse> all;
    for (auto const& row : test::rows("reference/sensing/its90_inverse.csv")) {
        auto& inverse = all[{row.at("type"), row.at("segment")}];
        inverse.emf_low = number(row, "emf_lo_mV");
        inverse.emf_high = number(row, "emf_hi_mV");
        inverse.error_low = number(row, "err_lo_C");
        inverse.error_high = number(row, "err_hi_C");
        inverse.c.push_back(number(row, "coefficient"));
    }
    return all;
}

}  // namespace

TEST_CASE("the reference functions give every published table value") {
    // NIST SRD 60, all.tab: 12,026 values of eight types, printed to 0.001 mV.
    auto const table = test::rows("reference/sensing/its90_table_full.csv");
    REQUIRE(table.size() == 12026);
    double worst = 0;
    int outside = 0;
    for (auto const& row : table) {
        auto const mv = emf_mv(type_of(row), number(row, "temp_C"));
        if (!mv) ++outside;
        worst = std::max(worst, std::abs(mv.value_or(1e9) - number(row, "emf_mV")));
    }
    CHECK(outside == 0);
    CHECK(worst <= 0.0005 + 1e-9);
}

TEST_CASE("the inverse finds the temperature of every published table value") {
    int checked = 0;
    for (auto const& row : test::rows("reference/sensing/its90_table_full.csv")) {
        auto const type = type_of(row);
        double const t = number(row, "temp_C");
        if (t < celsius_range(type).low) continue;
        auto const found = celsius(type, number(row, "emf_mV"));
        if (!found) FAIL("no temperature for type " << row.at("type") << " at " << t);
        // The table's rounding of 0.0005 mV is this many kelvin at that place.
        double const a = std::max(t - 0.5, emf_range(type).low), b = std::min(t + 0.5, emf_range(type).high);
        double const slope = (*emf_mv(type, b) - *emf_mv(type, a)) / (b - a);
        if (std::abs(*found - t) > 0.00055 / slope * 1.1 + 0.001 && t > emf_range(type).low + 3)
            FAIL("type " << row.at("type") << " at " << t << " gives " << *found);
        ++checked;
    }
    CHECK(checked > 11000);
}

TEST_CASE("the inverse agrees with the published inverse polynomials within their stated bounds") {
    // NIST SRD 60, allcoeff.tab; 0.005 K on top, because the stated bounds are rounded.
    auto const inverses = published_inverses();
    REQUIRE(inverses.size() == 23);
    for (auto const& [key, inverse] : inverses) {
        auto const type = thermocouple_type_from(key.first).value();
        int wrong = 0;
        for (int i = 0; i <= 2000; ++i) {
            double const mv = inverse.emf_low + (inverse.emf_high - inverse.emf_low) * i / 2000;
            if (mv > emf_mv(type, emf_range(type).high)) continue;  // rounded past the end of the range
            auto const t = celsius(type, mv);
            if (!t || inverse(mv) - *t < inverse.error_low - 0.005 ||
                inverse(mv) - *t > inverse.error_high + 0.005)
                ++wrong;
        }
        INFO("type " << key.first << " segment " << key.second);
        CHECK(wrong == 0);
    }
}

TEST_CASE("there and back is exact, also across the seams") {
    for (char letter : letters) {
        auto const type = thermocouple_type_from(std::string(1, letter)).value();
        auto const range = celsius_range(type);
        double worst = 0;
        for (int i = 0; i <= 5000; ++i) {
            double const t = range.low + (range.high - range.low) * i / 5000;
            worst = std::max(worst, std::abs(celsius(type, *emf_mv(type, t)).value_or(1e9) - t));
        }
        INFO("type " << letter);
        CHECK(worst < 1e-4);
    }
    for (auto [type, seam] : {std::pair{ThermocoupleType::B, 630.615},
                              {ThermocoupleType::J, 760.0},
                              {ThermocoupleType::K, 0.0},
                              {ThermocoupleType::N, 0.0},
                              {ThermocoupleType::E, 0.0},
                              {ThermocoupleType::T, 0.0},
                              {ThermocoupleType::R, 1064.18},
                              {ThermocoupleType::R, 1664.5},
                              {ThermocoupleType::S, 1064.18},
                              {ThermocoupleType::S, 1664.5}}) {
        INFO("type " << letter_of(type) << " at " << seam);
        CHECK_THAT(*emf_mv(type, seam + 1e-9) - *emf_mv(type, seam - 1e-9), WithinAbs(0, 2e-7));
    }
}

TEST_CASE("outside the published ranges there is no answer") {
    CHECK_FALSE(emf_mv(ThermocoupleType::K, 1372.1));
    CHECK_FALSE(emf_mv(ThermocoupleType::K, -270.1));
    CHECK_FALSE(emf_mv(ThermocoupleType::J, -211));
    CHECK_FALSE(emf_mv(ThermocoupleType::T, std::nan("")));
    CHECK_FALSE(celsius(ThermocoupleType::K, 54.9));
    CHECK_FALSE(celsius(ThermocoupleType::K, -6.46));
    CHECK_FALSE(celsius(ThermocoupleType::K, std::nan("")));
    CHECK_FALSE(celsius(ThermocoupleType::B, 0.1));  // two temperatures or a flat stretch: not told apart
    CHECK(celsius(ThermocoupleType::K, 54.8865) == 1372);  // the table's rounding
    CHECK_FALSE(compensate(ThermocoupleType::K, 1.0, 2000));
    CHECK_FALSE(thermocouple_type_from("X"));
    CHECK_FALSE(thermocouple_type_from("KK"));
    CHECK_FALSE(thermocouple_type_from(""));
    CHECK(thermocouple_type_from("t") == ThermocoupleType::T);
}

TEST_CASE("the cold junction is added as a voltage") {
    // By hand from the table: K at 100 is 4.096 mV, at 25 is 1.000 mV, so 3.096 mV across terminals at 25.
    CHECK_THAT(compensate(ThermocoupleType::K, 3.096, 25).value(), WithinAbs(100, 0.02));
    CHECK_THAT(compensate(ThermocoupleType::T, 0, 22).value(), WithinAbs(22, 1e-6));
    // A probe colder than its terminals.
    CHECK_THAT(compensate(ThermocoupleType::K, -1.0, 25).value(), WithinAbs(0, 0.02));
}
