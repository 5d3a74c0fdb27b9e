// What a kitchen and its plans say of room, hands and the hours of the cook.
#include "config/sections.hpp"
#include "tests/support/catch.hpp"

using namespace ingle;

namespace {

std::string const vessel = "[[vessel]]\nname = \"oven\"\nkind = \"oven\"\n";

Loaded kitchen(std::string const& keys, std::string const& of_vessel = "") {
    return parse_kitchen("[kitchen]\nname = \"hall\"\n" + keys + "\n" + vessel + of_vessel + "\n", "k.toml");
}

std::string mistake(Loaded const& loaded) {
    REQUIRE(loaded.errors.size() == 1);
    return loaded.errors[0].text();
}

PlanSettings plan(std::string const& keys, std::vector<ConfigError>& errors) {
    return read_plan("name = \"bake\"\n[[stage]]\nname = \"bake\"\n" + keys + "\n", "bake.toml", errors);
}

std::string mistake_in_plan(std::string const& keys) {
    std::vector<ConfigError> errors;
    plan(keys, errors);
    REQUIRE(errors.size() == 1);
    return errors[0].text();
}

}  // namespace

TEST_CASE("a vessel has room for one dish unless it says for how many") {
    CHECK(kitchen("").settings.vessels.at(0).room_for == 1);
    CHECK(kitchen("", "room-for = 3").settings.vessels.at(0).room_for == 3);
    for (auto const* wrong : {"0", "1.5", "101", "-2"})
        CHECK_THAT(mistake(kitchen("", "room-for = " + std::string(wrong))),
                   INGLE_CONTAINS("k.toml:7:12: vessel.oven.room-for: ") && INGLE_CONTAINS("from 1 to 100"));
    CHECK_THAT(mistake(kitchen("", "room-for = \"two\"")),
               INGLE_CONTAINS("k.toml:7:12: vessel.oven.room-for"));
}

TEST_CASE("the hours of the cook are two times of the day") {
    CHECK_FALSE(kitchen("").settings.awake);
    CHECK(kitchen("awake = [\"06:30\", \"23:00\"]").settings.awake == AwakeHours{390, 1380});
    CHECK(kitchen("awake = [\"16:00\", \"02:00\"]").settings.awake == AwakeHours{960, 120});
    for (auto const* wrong :
         {"[\"6:30\", \"23:00\"]", "[\"06:30\", \"24:00\"]", "[\"06:60\", \"23:00\"]", "\"06:30\"",
          "[\"06:30\"]", "[6, 23]", "[\"06:30\", \"06:30\"]", "[\"-6:30\", \"23:00\"]"})
        CHECK_THAT(mistake(kitchen("awake = " + std::string(wrong))), INGLE_CONTAINS("k.toml:3:") &&
                                                                          INGLE_CONTAINS("kitchen.awake: ") &&
                                                                          INGLE_CONTAINS("time"));
}

TEST_CASE("a stage says how long the cook is needed, within its own length") {
    std::vector<ConfigError> errors;
    CHECK(plan("hands = \"15 min\"\nuntil = { time = \"45 min\" }", errors).stages[0].hands == Duration{900});
    CHECK_FALSE(plan("", errors).stages[0].hands);
    CHECK(
        plan("hands = \"1 h\"\nuntil = { core = \"165 degF\", time = \"45 min\" }", errors).stages[0].hands);
    CHECK(errors.empty());
    CHECK_THAT(mistake_in_plan("hands = \"1 h\"\nuntil = { time = \"45 min\" }"),
               INGLE_CONTAINS("bake.toml:4:9: stage.bake.hands: ") && INGLE_CONTAINS("until.time"));
    CHECK_THAT(mistake_in_plan("hands = \"1 h\"\nat-most = \"45 min\""), INGLE_CONTAINS("at-most"));
    CHECK_THAT(mistake_in_plan("hands = \"13 h\""), INGLE_CONTAINS("from 0 to 12 h"));
    CHECK_THAT(mistake_in_plan("hands = 15"), INGLE_CONTAINS("has no unit"));
}

TEST_CASE("a stage can need no vessel") {
    std::vector<ConfigError> errors;
    auto const carve = plan("does = \"rest\"\nvessel = \"none\"", errors);
    REQUIRE(errors.empty());
    auto const loaded = parse_kitchen("[kitchen]\nname = \"hall\"\n" + vessel +
                                          "[[dish]]\nname = \"roll\"\nvessel = \"oven\"\nplan = \"bake\"\n",
                                      "k.toml", {carve});
    CHECK(loaded.errors.empty());
    CHECK_THAT(mistake_in_plan("vessel = \"none\"\nband = [\"180 degF\", \"190 degF\"]"),
               INGLE_CONTAINS("bake.toml:5:8: stage.bake.band: "));
    CHECK_THAT(mistake(kitchen("", "[[vessel]]\nname = \"none\"\nkind = \"pot\"")),
               INGLE_CONTAINS("vessel.none.name"));
}
