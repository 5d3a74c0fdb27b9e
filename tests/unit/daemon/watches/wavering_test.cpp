// What wavers: a pot that only just boils, a thick filling that bubbles, and one that is stirred.
#include "tests/support/catch.hpp"
#include "tests/support/kitchen_run.hpp"

using namespace ingle;
using namespace ingle::test;

namespace {

Run pot(std::pair<double, double> band, Series series) {
    auto settings = one_vessel(VesselKind::pot, band);
    settings.pressure = Pressure{98'800};  // boils at 99.3 degC
    Run run(settings);
    run.probe("p", probe_of(std::move(series)));
    return run;
}

}  // namespace

TEST_CASE("a pot that only just boils and wavers by 2 K has not boiled dry; one that climbs on has") {
    auto run =
        pot({90, 103}, {{0, 60}, {20, 99.3}, {60, 99.3}, {64, 101.1}, {68, 99.4}, {90, 99.4}, {100, 106}});
    run.until(90);
    CHECK(run.alarms("boiled-dry").empty());
    run.until(100);
    REQUIRE(run.alarms("boiled-dry").size() == 1);
    CHECK(run.alarms("boiled-dry")[0].raised < 95);
}

TEST_CASE("a filling far over where it stood catches, though a bubble has thrown it back within minutes") {
    auto run = pot({54, 84}, {{0, 64},
                              {60, 64},
                              {64, 66.5},
                              {64.3, 64.8},
                              {68.3, 67.5},
                              {68.6, 64.8},
                              {72, 68.5},
                              {72.3, 65.0},
                              {80, 73}});
    run.until(72);
    CHECK(run.alarms("catching").empty());
    run.until(79);
    CHECK(run.alarms("catching").size() == 1);
}

TEST_CASE("a filling that is stirred again and again, once a little deeper, was not topped up") {
    Series const stirred{{0, 66},    {30, 66},   {35, 69.2}, {35.3, 66},   {40, 69.2}, {40.3, 66},
                         {45, 69.2}, {45.3, 66}, {50, 69.2}, {50.3, 64.7}, {56, 68}};
    auto run = pot({54, 84}, stirred);
    run.until(56);
    CHECK(run.events("topped-up").empty());
    SECTION("cold liquid in a pot that stood is told") {
        auto steady = pot({54, 84}, {{0, 66}, {30, 66}, {30.3, 62}, {40, 66}, {50, 66}});
        steady.until(50);
        CHECK(steady.events("topped-up").size() == 1);
    }
}
