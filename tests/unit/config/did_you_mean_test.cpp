// The nearest word of those that are known; masses and lengths as they are typed in a kitchen.
#include "config/did_you_mean.hpp"
#include "config/band_words.hpp"
#include "config/quantity.hpp"
#include "tests/support/catch.hpp"

using namespace ingle;

TEST_CASE("the nearest name: swapped, doubled and left-out letters, capitals, a beginning") {
    std::vector<std::string> const known{"boar-shoulder", "boar-core", "stockpot", "fridge", "hold"};
    auto const meant = [&](std::string_view word) { return did_you_mean(word, known); };
    for (auto const* typed : {"boar-sholder", "boarshoulder", "boar shoulder", "Boar-Shoulder",
                              "boar-shuolder", "boar-shoullder"})
        CHECK(meant(typed) == "; did you mean \"boar-shoulder\"?");
    CHECK(meant("hodl") == "; did you mean \"hold\"?");
    CHECK(meant("frige") == "; did you mean \"fridge\"?");
    CHECK(meant("stock") == "; did you mean \"stockpot\"?");
    CHECK(meant("boar").empty());  // two of them begin so
    CHECK(meant("turnip").empty());
    CHECK(meant("").empty());
    CHECK(did_you_mean("x", {}).empty());
}

TEST_CASE("masses and lengths as they are typed") {
    auto const kilograms = [](char const* text) {
        auto const parsed = parse_mass(text);
        auto const* mass = std::get_if<Mass>(&parsed);
        return mass ? mass->kilograms : -1;
    };
    auto const metres = [](char const* text) {
        auto const parsed = parse_length(text);
        auto const* length = std::get_if<Length>(&parsed);
        return length ? length->metres : -1;
    };
    CHECK_THAT(kilograms("4 lbs"), WithinAbs(4 * 0.45359237, 1e-9));
    CHECK_THAT(kilograms("4 pounds"), WithinAbs(4 * 0.45359237, 1e-9));
    CHECK_THAT(kilograms("4 lb 3 oz"), WithinAbs(4.1875 * 0.45359237, 1e-9));
    CHECK_THAT(kilograms("1 1/2 kg"), WithinAbs(1.5, 1e-9));
    CHECK_THAT(metres("4 inch"), WithinAbs(0.1016, 1e-9));
    CHECK_THAT(metres("4\""), WithinAbs(0.1016, 1e-9));
    CHECK_THAT(metres("1 1/2 in"), WithinAbs(0.0381, 1e-9));
    CHECK_THAT(metres("1/2 in"), WithinAbs(0.0127, 1e-9));
    for (auto const* wrong : {"4 lb 3", "1/0 lb", "-1 lb", "0 kg", "4 lb -3 oz", "4 stone"})
        CHECK(kilograms(wrong) == -1);
}
