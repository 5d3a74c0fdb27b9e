#include "tests/support/catch.hpp"
#include "tests/support/kitchen_run.hpp"

using namespace ingle;
using namespace ingle::test;

TEST_CASE("what stands beyond its band from the start on is not on its way to it") {
    struct Row {
        VesselKind kind;
        std::pair<double, double> band;
        Series level;
        double from, to;  // minutes within which it is told; 0: never
    };
    auto const row = GENERATE(values<Row>({
        {VesselKind::pot, {80, 90}, {{0, 96}, {60, 96}}, 10, 14},
        {VesselKind::oven, {150, 170}, {{0, 185}, {60, 185}}, 10, 14},
        {VesselKind::fridge, {1, 5}, {{0, -6}, {60, -6}}, 10, 14},
        {VesselKind::oven, {150, 170}, {{0, 230}, {30, 165}, {60, 160}}, 0, 0},  // hotter before: it
                                                                                 // comes
        {VesselKind::fridge, {1, 5}, {{0, 14}, {120, 4}}, 0, 0},                 // just stocked
        {VesselKind::pot, {80, 90}, {{0, 20}, {60, 20}}, 0, 0},                  // not lit yet
    }));
    Run run(one_vessel(row.kind, row.band));
    run.probe("p", probe_of(row.level));
    run.until(55);
    auto const told = run.alarms("slow-to-reach");
    INFO(row.band.first << " to " << row.band.second << ", kind " << static_cast<int>(row.kind));
    REQUIRE(told.size() == (row.to > 0 ? 1U : 0U));
    if (told.empty()) return;
    CHECK(told[0].raised > row.from);
    CHECK(told[0].raised < row.to);
    CHECK_THAT(told[0].text, INGLE_CONTAINS("it has not been in it, and so it does not get there"));
}
