// Thawing times and the plans' limits against what is published.
#include <fstream>
#include <sstream>

#include "config/load.hpp"
#include "daemon/food/classes.hpp"
#include "daemon/schedule/lengths.hpp"
#include "tests/support/catch.hpp"

using namespace ingle;
using namespace ingle::schedule;

namespace {

struct Row {
    std::string where;
    double pounds = 0;
    std::optional<double> least_h, most_h;
};

std::vector<Row> published() {
    std::ifstream file(std::string(TEST_DATA) + "/reference/food-safety/thawing.csv");
    std::vector<Row> rows;
    for (std::string line; std::getline(file, line);) {
        if (line.starts_with('#') || line.starts_with("where")) continue;
        std::vector<std::string> cells;
        std::istringstream in(line + ",");
        for (std::string cell; std::getline(in, cell, ',');) cells.push_back(cell);
        auto const hours = [&](std::size_t i) {
            return cells[i].empty() ? std::nullopt : std::optional(std::stod(cells[i]));
        };
        rows.push_back({cells[0], std::stod(cells[1]), hours(2), hours(3)});
    }
    return rows;
}

PlanSettings shipped(std::string const& name) {
    std::ifstream file(std::string(TEST_SOURCE) + "/config/plans/" + name + ".toml");
    std::stringstream text;
    text << file.rdbuf();
    std::vector<ConfigError> errors;
    auto plan = read_plan(text.str(), name, errors);
    REQUIRE(errors.empty());
    return plan;
}

StageLength thawed(Row const& row) {
    VesselSettings vessel;
    vessel.kind = row.where == "fridge" ? VesselKind::fridge : VesselKind::bath;
    DishSettings dish;
    dish.mass = Mass{row.pounds * 0.45359237};
    StageSettings stage;
    stage.does = Does::thaw;
    return length_of({dish, stage, &vessel, -18, {}});
}

}  // namespace

TEST_CASE("thawing takes as long as is published") {
    auto const rows = published();
    REQUIRE(rows.size() == 9);
    for (auto const& row : rows) {
        auto const length = thawed(row);
        INFO(row.where << " " << row.pounds << " lb");
        double const hours = length.likely / 3600;
        if (row.least_h) CHECK(hours >= *row.least_h - 1e-6);
        if (row.most_h) CHECK(hours <= *row.most_h + 1e-6);
        bool const large = row.where == "fridge" && row.pounds >= 5;
        CHECK(length.low >= (large ? row.least_h.value() * 3600 - 1e-6 : 0));
        CHECK(length.high > length.likely);
    }
    DishSettings const unweighed;
    StageSettings stage;
    stage.does = Does::thaw;
    CHECK_FALSE(length_of({unweighed, stage, nullptr, -18, {}}).known);
}

TEST_CASE("the plans chill and hold within the published limits") {
    auto const chill = shipped("chill");
    CHECK_THAT(chill.stages.at(0).until.core->celsius, WithinAbs((70 - 32) / 1.8, 1e-6));
    CHECK(*chill.stages.at(0).at_most == Duration{2 * 3600});  // FDA Food Code 3-501.14(A)(1)
    // FDA Food Code 3-501.14(A)(2) asks for 41 degF; USDA keeps at 40 degF or below, so it goes on to there.
    CHECK_THAT(chill.stages.at(1).until.core->celsius, WithinAbs((40 - 32) / 1.8, 1e-6));
    CHECK(chill.stages.at(0).at_most->seconds + chill.stages.at(1).at_most->seconds == 6 * 3600);
    for (auto const* name : {"hold", "reheat", "roast-and-hold", "smoke-and-hold"})
        for (auto const& stage : shipped(name).stages)
            if (stage.does == Does::hot_hold) {
                INFO(name);
                CHECK(stage.band->low.celsius >= hot_hold_limits()[0].celsius() - 1e-9);
                CHECK(stage.at_most);
            }
    for (auto const* name : {"thaw-fridge", "chill-dough"})
        for (auto const& stage : shipped(name).stages) {
            if (!stage.band) continue;
            INFO(name);
            CHECK(stage.band->high.celsius <= (41 - 32) / 1.8 + 1e-9);  // FDA Food Code 3-501.13(A), 3-501.16
        }
    auto const water = shipped("thaw-cold-water").stages.at(0);
    CHECK(water.band->high.celsius <= (70 - 32) / 1.8 + 1e-9);  // FDA Food Code 3-501.13(B)
    CHECK(water.at_most->seconds <= 4 * 3600);
}
