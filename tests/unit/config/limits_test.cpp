// What a band can be, and the question back where the unit was probably another one.
#include "config/limits.hpp"

#include "config/load.hpp"
#include "config/sections.hpp"
#include "tests/support/catch.hpp"

using namespace ingle;

namespace {

std::string errors_of(std::string const& kind, std::string const& band, std::string const& more = "",
                      std::string const& probe_more = "") {
    std::string const text =
        "[kitchen]\naltitude = \"240 m\"\n[[probe]]\nname = \"p\"\ndriver = \"simulated\"\nof = \"v\"\n" +
        probe_more + "[[vessel]]\nname = \"v\"\nkind = \"" + kind + "\"\nmedium = \"p\"\nband = " + band +
        "\n" + more;
    std::string all;
    for (auto const& error : parse_kitchen(text, "k.toml").errors) all += error.text() + "\n";
    return all;
}

}  // namespace

TEST_CASE("a band in the wrong unit is asked back with the unit that was probably meant") {
    CHECK_THAT(errors_of("pot", R"(["180 degC", "190 degC"])"),
               INGLE_CONTAINS("v.band: 356.0 degF (180.0 degC) is above the boiling point in a pot") &&
                   INGLE_CONTAINS("did you mean degF? \"180 degF\" to \"190 degF\"") &&
                   INGLE_CONTAINS("liquid = \"fat\""));
    CHECK_THAT(errors_of("fridge", R"(["33 degC", "41 degC"])"),
               INGLE_CONTAINS("did you mean degF? \"33 degF\" to \"41 degF\""));
    CHECK_THAT(errors_of("smoker", R"(["90 degF", "110 degF"])"),
               INGLE_CONTAINS("did you mean degC? \"90 degC\" to \"110 degC\""));
    CHECK_THAT(errors_of("bath", R"(["140 degC", "150 degC"])"),
               INGLE_CONTAINS("did you mean degF? \"140 degF\" to \"150 degF\""));
    CHECK_THAT(errors_of("hot-box", R"(["140 degC", "165 degC"])"), INGLE_CONTAINS("did you mean degF?"));
    CHECK_THAT(errors_of("room", R"(["65 degC", "75 degC"])"), INGLE_CONTAINS("did you mean degF?"));
    CHECK_THAT(errors_of("pot", R"(["90 degC", "1000 degC"])"), INGLE_CONTAINS("impossible in a pot"));
}

TEST_CASE("what cooks really hold is taken") {
    for (auto const& [kind, band, more] : std::initializer_list<std::array<char const*, 3>>{
             {"pot", R"(["180 degF", "190 degF"])", ""},
             {"pot", R"(["90 degC", "103 degC"])", ""},  // at the boil, and a stock that thickens
             {"pot", R"(["170 degC", "185 degC"])", "liquid = \"fat\"\n"},
             {"pot", R"(["112 degC", "118 degC"])", "liquid = \"syrup\"\n"},
             {"pot", R"(["104 degC", "107 degC"])", "salt = \"25 %\"\n"},
             {"bath", R"(["57 degC", "58 degC"])", ""},
             {"smoker", R"(["15 degC", "25 degC"])", ""},  // cold smoke
             {"smoker", R"(["200 degF", "225 degF"])", ""},
             {"oven", R"(["450 degC", "480 degC"])", ""},
             {"fridge", R"(["33 degF", "41 degF"])", ""},
             {"fridge", R"(["-22 degC", "-18 degC"])", ""},
             {"hot-box", R"(["140 degF", "165 degF"])", ""},
             {"room", R"(["15 degC", "25 degC"])", ""}}) {
        INFO(kind << " " << band);
        CHECK(errors_of(kind, band, more).empty());
    }
    CHECK_THAT(errors_of("oven", R"(["190 degC", "210 degC"])", "liquid = \"fat\"\n"),
               INGLE_CONTAINS("v.liquid: belongs to a pot or a bath"));
}

TEST_CASE("a plausible range that does not contain the band and the way to it is refused") {
    CHECK_THAT(errors_of("pot", R"(["170 degC", "185 degC"])", "liquid = \"fat\"\n",
                         "plausible = [\"-10 degC\", \"130 degC\"]\n"),
               INGLE_CONTAINS("the plausible range of the probe \"p\"") &&
                   INGLE_CONTAINS("68.0 degF (20.0 degC) to 374.0 degF (190.0 degC)"));
    CHECK_THAT(
        errors_of("fridge", R"(["33 degF", "41 degF"])", "", "plausible = [\"-5 degC\", \"15 degC\"]\n"),
        INGLE_CONTAINS("the way to it"));
    CHECK(errors_of("fridge", R"(["33 degF", "41 degF"])", "", "plausible = [\"-10 degC\", \"40 degC\"]\n")
              .empty());
}

TEST_CASE("a core temperature in the other unit is asked back") {
    auto const errors_of_core = [](std::string const& line) {
        std::vector<ConfigError> errors;
        read_plan("name = \"roast\"\n[[stage]]\nname = \"roast\"\n" + line + "\n", "p.toml", errors);
        std::string all;
        for (auto const& error : errors) all += error.text() + "\n";
        return all;
    };
    CHECK_THAT(errors_of_core("until = { core = \"165 degC\" }"),
               INGLE_CONTAINS("p.toml:4") && INGLE_CONTAINS("did you mean \"165 degF\"?"));
    CHECK_THAT(errors_of_core("until = { core = \"125 degC\" }"),
               INGLE_CONTAINS("did you mean \"125 degF\"?"));
    CHECK_THAT(errors_of_core("until = { core = \"160 degF\" }\ncore-most = \"180 degC\""),
               INGLE_CONTAINS("core-most") && INGLE_CONTAINS("did you mean \"180 degF\"?"));
    CHECK(errors_of_core("until = { core = \"165 degF\" }\ncore-most = \"97 degC\"").empty());
    // No core in either unit: then it is said what one can be.
    CHECK_THAT(errors_of_core("until = { core = \"900 degC\" }"),
               INGLE_CONTAINS("from -22.0 degF (-30.0 degC)"));
}
