// How a plan says what counts toward the time of a stage.
#include "config/sections.hpp"
#include "tests/support/catch.hpp"

using namespace ingle;

namespace {

struct Read {
    explicit Read(std::string const& keys, std::string const& band = R"(band = ["180 degF", "190 degF"])",
                  std::string const& time = "2 h") {
        auto const text = "name = \"poach\"\n[[stage]]\nname = \"poach\"\n" + band + "\nuntil = { time = \"" +
                          time + "\" }\n" + keys + "\n";
        plan = read_plan(text, "poach.toml", errors);
    }
    PlanSettings plan;
    std::vector<ConfigError> errors;
};

}  // namespace

TEST_CASE("the time of a stage counts from its band unless the plan says otherwise") {
    Read const usual("");
    REQUIRE(usual.errors.empty());
    CHECK_FALSE(usual.plan.stages[0].counts_from_begin);
    CHECK(usual.plan.stages[0].excursion.seconds == 600);
    Read const begin("counts = \"from-begin\"");
    REQUIRE(begin.errors.empty());
    CHECK(begin.plan.stages[0].counts_from_begin);
    Read const bounded("excursion = \"5 min\"");
    REQUIRE(bounded.errors.empty());
    CHECK(bounded.plan.stages[0].excursion.seconds == 300);
    // Of a minute not most may be time that nobody read.
    CHECK(Read("", R"(band = ["180 degF", "190 degF"])", "1 min").plan.stages[0].excursion.seconds == 6);
}

TEST_CASE("mistakes in how it counts are named with their key") {
    auto const key_of = [](Read const& read) {
        REQUIRE(read.errors.size() == 1);
        CHECK(read.errors[0].where.file == "poach.toml");
        return read.errors[0].key;
    };
    CHECK_THAT(key_of(Read("counts = \"sometimes\"")), INGLE_CONTAINS("counts"));
    CHECK_THAT(key_of(Read("counts = \"from-band\"", "")), INGLE_CONTAINS("counts"));
    CHECK_THAT(key_of(Read("excursion = \"2 days\"")), INGLE_CONTAINS("excursion"));
    CHECK_THAT(key_of(Read("excursion = \"5 min\"", "")), INGLE_CONTAINS("excursion"));
    CHECK_THAT(key_of(Read("excursion = 5")), INGLE_CONTAINS("excursion"));
}
