#include "drivers/thermocouple/chip_words.hpp"

#include <cmath>
#include <string>

#include "tests/support/catch.hpp"
#include "tests/support/rows.hpp"

using namespace ingle;
using ingle::test::number;

namespace {

constexpr auto K = ThermocoupleType::K;
constexpr Instant at{Span{1234}};

std::uint32_t hex(std::string const& text) {
    return static_cast<std::uint32_t>(std::stoul(text, nullptr, 16));
}

Reading word(std::uint32_t w) {
    return decode_max31855(w, K, at);
}

}  // namespace

TEST_CASE("the MAX31855's fields read as in its data sheet") {
    int seen = 0;
    for (auto const& row : test::rows("reference/sensing/chip_words.csv")) {
        if (row.at("chip") != "MAX31855" || row.at("what") == "frame32") continue;
        INFO(row.at("what") << " " << row.at("hex"));
        double const expected = number(row, "expected");
        if (row.at("what") == "cj_field_12bit") {
            // With a fault bit set the cold junction is still told.
            CHECK_THAT(word(hex(row.at("hex")) << 4 | 0x10001).cold_junction.value(), WithinAbs(expected, 0));
        } else {
            auto const w = hex(row.at("hex")) << 18 | 25u << 8;  // cold junction 25 degC
            auto const straight = straighten_max31855(K, expected, 25);
            if (straight) {
                REQUIRE(word(w).ok());
                CHECK_THAT(word(w).celsius(), WithinAbs(*straight, 1e-9));
            } else {
                CHECK(word(w).fault().kind == FaultKind::out_of_range);
            }
        }
        ++seen;
    }
    CHECK(seen == 16);
}

TEST_CASE("the MAX31855's whole words") {
    int seen = 0;
    for (auto const& row : test::rows("reference/sensing/chip_words.csv")) {
        if (row.at("chip") != "MAX31855" || row.at("what") != "frame32") continue;
        auto const& expected = row.at("expected");
        auto const reading = word(hex(row.at("hex")));
        INFO(row.at("hex") << " " << expected);
        ++seen;
        CHECK(reading.word == hex(row.at("hex")));
        CHECK(reading.at == at);
        if (expected.find("OC") != std::string::npos)
            CHECK(reading.fault().kind == FaultKind::open);
        else if (expected.find("SCG") != std::string::npos)
            CHECK(reading.fault().kind == FaultKind::short_to_ground);
        else if (expected.find("SCV") != std::string::npos)
            CHECK(reading.fault().kind == FaultKind::short_to_supply);
        else if (expected.find("no chip") != std::string::npos)
            CHECK(reading.fault().kind == FaultKind::no_reply);
        else {
            double const tc = std::stod(expected.substr(3));
            double const cj = std::stod(expected.substr(expected.find("cj=") + 3));
            CHECK_THAT(reading.cold_junction.value(), WithinAbs(cj, 0.0006));
            if (tc > -200 && tc < 1300) {
                // The chip's own straight line, redone by hand: slope x difference + emf of the cold end.
                double const mv =
                    0.041276 * (tc - *reading.cold_junction) + *emf_mv(K, *reading.cold_junction);
                CHECK_THAT(*emf_mv(K, reading.celsius()), WithinAbs(mv, 1e-6));
            }
        }
    }
    CHECK(seen == 12);
}

TEST_CASE("the MAX31855's straight line is undone for type K") {
    int seen = 0;
    for (auto const& row : test::rows("reference/sensing/max31855_k_line.csv")) {
        auto const w = hex(row.at("frame32"));
        INFO(row.at("frame32"));
        ++seen;
        if (w == 0) {  // 0 degC at both ends to the last bit looks like a dead line
            CHECK(word(w).fault().kind == FaultKind::no_reply);
            continue;
        }
        REQUIRE(word(w).ok());
        // That column was made with NIST's inverse polynomials: stated to 0.05 K (0.06 above 500 degC).
        CHECK_THAT(word(w).celsius(), WithinAbs(number(row, "corrected_c"), 0.06));
        CHECK_THAT(decode_max31855(w, {}, at).celsius(), WithinAbs(number(row, "chip_c"), 0));
        CHECK_THAT(word(w).celsius(),
                   WithinAbs(number(row, "true_c"), number(row, "true_c") > -100 ? 0.2 : 0.33));
        CHECK_THAT(*word(w).cold_junction, WithinAbs(number(row, "cold_junction_c"), 0));
    }
    CHECK(seen == 81);
}

TEST_CASE("every type that the MAX31855 is made for comes back from its own straight line") {
    for (auto type : {ThermocoupleType::K, ThermocoupleType::J, ThermocoupleType::N, ThermocoupleType::S,
                      ThermocoupleType::T, ThermocoupleType::E, ThermocoupleType::R}) {
        // The slopes are those of the NIST table between 0 degC and the far end that the data sheet names.
        double const far = type == ThermocoupleType::T ? 400 : 1000;
        CHECK_THAT(max31855_slope(type).value(), WithinAbs(*emf_mv(type, far) / far, 1e-6));
        for (double truth : {4.0, 60.0, 100.0, 200.0, 350.0}) {
            double const cj = 24.5;
            double const chip = cj + (*emf_mv(type, truth) - *emf_mv(type, cj)) / *max31855_slope(type);
            auto const steps = static_cast<std::int32_t>(std::lround(chip * 4));
            auto const w = static_cast<std::uint32_t>(steps) << 18 | 0x1880;
            double const step =
                0.125 * *max31855_slope(type) / (*emf_mv(type, truth + 1) - *emf_mv(type, truth));
            INFO("type " << letter_of(type) << " at " << truth);
            auto const reading = decode_max31855(w, type, at);
            REQUIRE(reading.ok());
            CHECK_THAT(reading.celsius(), WithinAbs(truth, step * 1.05 + 0.001));
        }
    }
    CHECK_FALSE(decode_max31855(0x01901900, ThermocoupleType::B, at).ok());
    CHECK_FALSE(max31855_slope(ThermocoupleType::B));
}

TEST_CASE("field case A1: an open probe never shows its temperature bits") {
    CHECK_THAT(word(0x04A41700).celsius(), WithinAbs(74.25, 0.3));
    CHECK_THAT(word(0x04A81700).celsius(), WithinAbs(74.5, 0.3));
    for (std::uint32_t w : {0x7FFD1701u, 0x00011701u}) {
        CHECK(word(w).fault().kind == FaultKind::open);
        CHECK(word(w).cold_junction == 23.0625 - 0.0625);
        CHECK(word(w).word == w);
    }
}

TEST_CASE("field cases A2 and A3: each fault bit is named, and no cause is said as such") {
    CHECK(word(0x08B92102).fault().kind == FaultKind::short_to_ground);
    CHECK(word(0x08B92104).fault().kind == FaultKind::short_to_supply);
    auto const both = word(0x08B92105).fault();
    CHECK(both.kind == FaultKind::short_to_supply);
    CHECK_THAT(both.reason, INGLE_CONTAINS("short-to-supply"));
    CHECK_THAT(both.reason, INGLE_CONTAINS("open"));
    auto const all = word(0x08B92107).fault();
    CHECK_THAT(all.reason, INGLE_CONTAINS("short-to-supply"));
    CHECK_THAT(all.reason, INGLE_CONTAINS("short-to-ground"));
    CHECK_THAT(all.reason, INGLE_CONTAINS("open"));
    CHECK(word(0x08B92100).fault().kind == FaultKind::unspecified);
    CHECK_THAT(word(0x08B92100).fault().reason, INGLE_CONTAINS("no cause given"));
    CHECK(word(0x08B82101).fault().kind == FaultKind::garbled);  // a cause, but D16 is 0
}

TEST_CASE("field cases A4 and A6: a swapped or wrongly typed probe reads as the field saw it") {
    // The word that a type K chip sends for `emf`, cold junction 22; the chip's step is 0.25 K.
    auto const sent = [](double emf, ThermocoupleType chip) {
        double const shown = 22 + emf / *max31855_slope(chip);
        return static_cast<std::uint32_t>(static_cast<std::int32_t>(std::lround(shown * 4))) << 18 | 0x1600;
    };
    auto const emf = [](ThermocoupleType t, double hot) { return *emf_mv(t, hot) - *emf_mv(t, 22); };
    double const pot[] = {40, 60, 80, 95}, swapped[] = {3.7, -17.4, -39.5, -56.8};
    for (int i = 0; i < 4; ++i)
        CHECK_THAT(decode_max31855(sent(-emf(K, pot[i]), K), K, at).celsius(), WithinAbs(swapped[i], 0.3));
    double const truth[] = {4, 60, 95, 120}, as_j[] = {7.9, 51.8, 79.0, 98.1},
                 as_t[] = {3.9, 59.1, 91.4, 113.4};
    for (int i = 0; i < 4; ++i) {
        CHECK_THAT(compensate(ThermocoupleType::J, emf(K, truth[i]), 22).value(), WithinAbs(as_j[i], 0.15));
        CHECK_THAT(compensate(ThermocoupleType::T, emf(K, truth[i]), 22).value(), WithinAbs(as_t[i], 0.15));
    }
}

TEST_CASE("field case A7: the corrected value is right at every point and has no jump") {
    double const truth[] = {4, 63, 95, 121, 150, 175, 200, 230};
    double const chip[] = {4.75, 62.75, 95.0, 121.0, 149.5, 173.75, 198.0, 227.25};
    for (int i = 0; i < 8; ++i)
        CHECK_THAT(straighten_max31855(K, chip[i], 28).value(), WithinAbs(truth[i], 0.3));
    double const a = straighten_max31855(K, 27.75, 28).value(), b = straighten_max31855(K, 28, 28).value(),
                 c = straighten_max31855(K, 28.25, 28).value();
    CHECK_THAT(b, WithinAbs(28, 1e-6));
    CHECK_THAT(b - a, WithinAbs(0.25, 0.01));
    CHECK_THAT(c - b, WithinAbs(0.25, 0.01));
}

TEST_CASE("field cases A8 and A9: no chip is no value, and below zero is exact") {
    CHECK(word(0xFFFFFFFF).fault().kind == FaultKind::no_reply);
    CHECK_THAT(word(0xFFFFFFFF).fault().reason, INGLE_CONTAINS("no chip answering"));
    CHECK_FALSE(word(0xFFFFFFFF).cold_junction);
    CHECK(word(0).fault().kind == FaultKind::no_reply);
    CHECK(word(0xFFBCFF00).cold_junction == -1.0);
    CHECK_THAT(word(0xFFBCFF00).celsius(), WithinAbs(-4.25, 0.2));
    CHECK(word(0xFEE0FFF0).cold_junction == -0.0625);
    CHECK(decode_max31855(0xFFBCFF00, {}, at).celsius() == -4.25);
    CHECK(decode_max31855(0xFEE0FFF0, {}, at).celsius() == -18);
    // By hand from the NIST table: 0.041276 x -17.9375 = -0.7404 mV, and K is -0.739 at -19 and -0.778 at
    // -20.
    CHECK_THAT(word(0xFEE0FFF0).celsius(), WithinAbs(-19.09, 0.05));
    CHECK(word(0x01921900).fault().kind == FaultKind::garbled);  // D17
    CHECK(word(0x01901908).fault().kind == FaultKind::garbled);  // D3
}

TEST_CASE("the MAX6675's words") {
    int seen = 0;
    for (auto const& row : test::rows("reference/sensing/chip_words.csv")) {
        if (row.at("chip") != "MAX6675") continue;
        auto const w = static_cast<std::uint16_t>(hex(row.at("hex")));
        auto const reading = decode_max6675(w, at);
        INFO(row.at("hex"));
        ++seen;
        CHECK(reading.word == w);
        if (row.at("expected").find("open") == 0)
            CHECK(reading.fault().kind == FaultKind::open);
        else if (row.at("expected").find("reject") == 0)
            CHECK(reading.fault().kind == FaultKind::no_reply);
        else
            CHECK_THAT(reading.celsius(), WithinAbs(number(row, "expected"), 0));
    }
    CHECK(seen == 10);
    CHECK(decode_max6675(0x0321, at).celsius() == 25);  // the last bit floats
    CHECK(decode_max6675(0x8320, at).fault().kind == FaultKind::garbled);
    CHECK(decode_max6675(0x0322, at).fault().kind == FaultKind::garbled);
    CHECK(max6675_doubtful(1));
    CHECK_FALSE(max6675_doubtful(8));
}

TEST_CASE("the MAX31856's registers") {
    int seen = 0;
    for (auto const& row : test::rows("reference/sensing/chip_words.csv")) {
        if (row.at("chip") != "MAX31856") continue;
        INFO(row.at("hex"));
        ++seen;
        if (row.at("what") == "LTCBH..LTCBL")
            CHECK_THAT(max31856_celsius(hex(row.at("hex"))), WithinAbs(number(row, "expected"), 0));
        else
            CHECK_THAT(max31856_cold_junction(static_cast<std::uint16_t>(hex(row.at("hex")))),
                       WithinAbs(number(row, "expected"), 0));
    }
    CHECK(seen == 19);

    std::uint8_t block[16] = {0x80, 0x03, 0xFF, 0x7F, 0xC0, 0x7F, 0xFF, 0x80,
                              0,    0,    0x19, 0x00, 0x06, 0x4F, 0,    0};
    CHECK(decode_max31856(block, at).celsius() == 100.9375);
    CHECK(decode_max31856(block, at).cold_junction == 25);
    auto const tail = std::span(block).last(6);
    CHECK(decode_max31856(tail, at).celsius() == 100.9375);
    CHECK(decode_max31856(tail.first(5), at).fault().kind == FaultKind::garbled);
    auto const with_status = [&](int sr) {
        block[15] = static_cast<std::uint8_t>(sr);
        return decode_max31856(block, at);
    };
    CHECK(with_status(0x01).fault().kind == FaultKind::open);
    CHECK(with_status(0x02).fault().kind == FaultKind::short_circuit);
    CHECK(with_status(0x40).fault().kind == FaultKind::out_of_range);
    CHECK(with_status(0x80).fault().kind == FaultKind::out_of_range);
    CHECK_THAT(with_status(0x03).fault().reason, INGLE_CONTAINS("open"));
    CHECK(with_status(0x3C).ok());  // the chip's own thresholds: no fault of the measurement
    std::uint8_t const ones[] = {255, 255, 255, 255, 255, 255}, zeros[6] = {};
    CHECK(decode_max31856(ones, at).fault().kind == FaultKind::no_reply);
    CHECK(decode_max31856(zeros, at).fault().kind == FaultKind::no_reply);
}
