#include "config/quantity.hpp"

#include <locale>

#include "config/wall_time.hpp"
#include "tests/support/catch.hpp"

using namespace ingle;

namespace {

double celsius(std::string_view text) {
    return std::get<Temperature>(parse_temperature(text)).celsius;
}
template <class Q>
QuantityError error(Parsed<Q> const& parsed) {
    REQUIRE(std::holds_alternative<QuantityError>(parsed));
    return std::get<QuantityError>(parsed);
}

struct Comma : std::numpunct<char> {  // what a German or French locale makes of numbers
    char do_decimal_point() const override { return ','; }
    char do_thousands_sep() const override { return '.'; }
    std::string do_grouping() const override { return "\3"; }
};

}  // namespace

TEST_CASE("temperatures in either unit and every usual spelling") {
    // Fixed points by definition of the scales: 32 and 212 degF; -40 is the same in both.
    for (auto const* text : {"212 degF", "212F", "212 °F", "212 deg F", "212.0 f", " 212 ºF "})
        CHECK_THAT(celsius(text), WithinAbs(100, 1e-12));
    for (auto const* text : {"85 degC", "85C", "85 °C", "+85 c", "8.5e1 degC"}) CHECK(celsius(text) == 85);
    CHECK_THAT(celsius("-40 degF"), WithinAbs(-40, 1e-12));
    CHECK_THAT(celsius("\u221240 degF"), WithinAbs(-40, 1e-12));
    CHECK_THAT(celsius("\u201340 degF"), WithinAbs(-40, 1e-12));
}

TEST_CASE("a number without a unit shows both readings (field case G1)") {
    auto const e = error(parse_temperature("225"));
    CHECK(e.wrong == "\"225\" has no unit");
    CHECK(e.right == "write \"225 degF\" (107.2 degC) or \"225 degC\" (437 degF)");
    CHECK_THAT(celsius("225F"), WithinAbs(107.222222, 1e-6));
    CHECK(celsius("225 C") == 225);
    CHECK(celsius("107.2C") == 107.2);
    CHECK_THAT(error(parse_temperature_difference("1")).right, INGLE_CONTAINS("\"1 degF\" (0.56 degC)"));
    CHECK_THAT(error(parse_duration("90")).wrong, INGLE_CONTAINS("has no unit"));
}

TEST_CASE("a difference converts without the 32") {
    CHECK_THAT(std::get<TemperatureDifference>(parse_temperature_difference("1 degF")).kelvin,
               WithinAbs(5.0 / 9.0, 1e-12));
    CHECK(std::get<TemperatureDifference>(parse_temperature_difference("1.5 K")).kelvin == 1.5);
}

TEST_CASE("the other quantities") {
    auto const s = [](std::string_view text) { return std::get<Duration>(parse_duration(text)).seconds; };
    CHECK(s("2 h") == 7200);
    CHECK(s("1 h 30 min") == 5400);
    CHECK(s("1h30min") == 5400);
    for (auto const* text : {"1h30", "2 h 30", "90 mins", "1.5 hr"}) CHECK(s(text) >= 5400);
    CHECK(s("90 secs") == 90);
    CHECK(s("20m") == 1200);
    CHECK(s("half an hour") == 1800);
    CHECK(s("3 weeks") == 3 * 604800.0);
    CHECK(s("3 days") == 259200);
    CHECK(s("500 ms") == 0.5);
    CHECK_THAT(std::get<Length>(parse_length("3 in")).metres, WithinAbs(0.0762, 1e-12));
    CHECK_THAT(std::get<Length>(parse_length("500 ft")).metres, WithinAbs(152.4, 1e-9));
    // NIST SP 811: 1 inHg = 3.386389 kPa, 1 mmHg = 133.3224 Pa, 1 lb = 0.45359237 kg.
    CHECK_THAT(std::get<Pressure>(parse_pressure("29.92 inHg")).pascals, WithinAbs(101320.8, 0.1));
    CHECK_THAT(std::get<Pressure>(parse_pressure("760 mmHg")).pascals, WithinAbs(101325.0, 0.1));
    CHECK_THAT(std::get<Mass>(parse_mass("4 lb")).kilograms, WithinAbs(1.81436948, 1e-9));
    CHECK_THAT(std::get<Mass>(parse_mass("16 oz")).kilograms, WithinAbs(0.45359237, 1e-9));
    CHECK(std::get<Fraction>(parse_fraction("1 %")).value == 0.01);
    for (auto const* text : {"", "h", "2 hh", "-2 h", "2,5 h", "nan h", "1e999 s", "2 h x"})
        CHECK(std::holds_alternative<QuantityError>(parse_duration(text)));
    for (auto const* text : {"0 kg", "-1 kg", "4 stones", "1 kg 2"})
        CHECK(std::holds_alternative<QuantityError>(parse_mass(text)));
}

TEST_CASE("numbers: what the field sent, and nothing but numbers (field cases A12 and G3)") {
    double value = 0;
    CHECK((parse_number("58.5", value) && value == 58.5));
    for (auto const* text : {"58,5", "nan", "inf", "0x59", "88.1.2", "", " 1", "1 ", "+-1", "1e999"})
        CHECK_FALSE(parse_number(text, value));
    CHECK_THAT(error(parse_temperature("58,5 degC")).right, INGLE_CONTAINS("58.5 degC"));
    for (auto const* text : {"inf degC", "-300 degC", "358 K", "85 degX", "0x55 degC"})
        CHECK(std::holds_alternative<QuantityError>(parse_temperature(text)));
}

TEST_CASE("the locale changes nothing") {
    auto const before = std::locale::global(std::locale(std::locale::classic(), new Comma));
    auto const c = celsius("1234.5 degC");
    auto const shown = show(Temperature{1234.5}, TemperatureUnit::celsius);
    std::locale::global(before);
    CHECK(c == 1234.5);
    CHECK(shown == "1234.5 degC");
}

TEST_CASE("what people see") {
    CHECK(show(Temperature{85}, TemperatureUnit::fahrenheit) == "185.0 degF");
    CHECK(show(Temperature{-0.01}, TemperatureUnit::celsius) == "0.0 degC");
    CHECK(show(TemperatureDifference{5.0 / 9}, TemperatureUnit::fahrenheit) == "1.0 degF");
    CHECK(show(Duration{7500}) == "2 h 05 min");
    CHECK(show(Duration{7199}) == "2 h");
    CHECK(show(Duration{59.6}) == "1 min");
    CHECK(show(Duration{90}) == "1 min 30 s");
    CHECK(show(Duration{86400 * 3.0 + 3600 * 4}) == "3 days 04 h");
    CHECK(show(Duration{0.25}) == "250 ms");
}

TEST_CASE("a serving time is one instant") {
    // date -ud '2026-11-26T17:00:00-05:00' +%s prints 1795730400.
    CHECK(std::get<WallMoment>(parse_wall_time("2026-11-26T17:00:00-05:00")).ms == 1795730400000);
    CHECK(std::get<WallMoment>(parse_wall_time("2026-11-26 22:00Z")).ms == 1795730400000);
    CHECK_THAT(error(parse_wall_time("2026-11-26T17:00:00")).wrong, INGLE_CONTAINS("no offset"));
    CHECK(std::holds_alternative<QuantityError>(parse_wall_time("2026-02-30T17:00:00Z")));
    CHECK(std::holds_alternative<QuantityError>(parse_wall_time("17:00")));
}
