#include "tools/cli/setup/plan_check.hpp"

#include "tests/support/catch.hpp"

using namespace ingle;
using namespace ingle::cli;

namespace {

std::vector<ConfigError> doubts(std::string const& stages) {
    std::vector<ConfigError> errors;
    auto const plan = read_plan("name = \"p\"\n" + stages, "p.toml", errors);
    REQUIRE(errors.empty());
    return doubts_of(plan);
}

std::string only(std::string const& keys) {
    auto const all = doubts("[[stage]]\nname = \"s\"\n" + keys + "\n");
    REQUIRE(all.size() == 1);
    return all[0].text();
}

bool quiet(std::string const& keys) {
    return doubts("[[stage]]\nname = \"s\"\n" + keys + "\n").empty();
}

}  // namespace

TEST_CASE("a hold on the unsafe side of the published limits is said, with the limit and its source") {
    auto const hot = only("does = \"hot-hold\"\nband = [\"20 degC\", \"30 degC\"]");
    CHECK_THAT(hot, INGLE_CONTAINS("p.toml:2"));
    CHECK_THAT(hot, INGLE_CONTAINS("held hot come to 20 degC"));
    CHECK_THAT(hot, INGLE_CONTAINS("57 degC (135 degF) or above (FDA Food Code 3-501.16"));
    auto const cold = only("does = \"cold-hold\"\nband = [\"40 degC\", \"50 degC\"]");
    CHECK_THAT(cold, INGLE_CONTAINS("5 degC (41 degF) or below"));
    CHECK(quiet("does = \"hot-hold\"\nband = [\"135 degF\", \"165 degF\"]"));
    CHECK(quiet("does = \"cold-hold\"\nband = [\"33 degF\", \"41 degF\"]"));
}

TEST_CASE("a stage that never ends, one that is over as it begins, and a hot chill are said") {
    CHECK_THAT(only("band = [\"180 degF\", \"190 degF\"]\nuntil = { core = \"195 degF\" }"),
               INGLE_CONTAINS("the stage never ends, a lower core, or a hotter band"));
    CHECK(quiet("band = [\"200 degF\", \"225 degF\"]\nuntil = { core = \"195 degF\" }"));
    CHECK_THAT(only("until = { time = \"0 min\" }"), INGLE_CONTAINS("over as it begins"));
    CHECK_THAT(only("does = \"chill\"\nuntil = { core = \"95 degC\" }"),
               INGLE_CONTAINS("is no core that food is chilled to"));
}

TEST_CASE("two stages of one name are said") {
    std::string const stage = "[[stage]]\nname = \"s\"\n";
    auto const all = doubts(stage + stage);
    REQUIRE(all.size() == 1);
    CHECK_THAT(all[0].text(), INGLE_CONTAINS("an earlier stage"));
}

TEST_CASE("a plan is told from a kitchen, an empty file from both, and the unit from what is written") {
    CHECK(is_plan_alone("name = \"x\"\n"));
    CHECK(is_plan_alone("name = \"x\"\n[[stage]]\nname = \"a\"\n"));
    CHECK_FALSE(is_plan_alone("[kitchen]\nname = \"x\"\n"));
    CHECK_FALSE(is_plan_alone("[[probe]]\nname = \"x\"\n"));
    CHECK(says_nothing(" \n# a comment\n"));
    CHECK_FALSE(says_nothing("name = \"x\"\n"));
    CHECK(unit_of("band = [\"80 degC\", \"90 degC\"]") == TemperatureUnit::celsius);
    CHECK(unit_of("band = [\"180 degF\", \"190 degF\"]") == TemperatureUnit::fahrenheit);
}
