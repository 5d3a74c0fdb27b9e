// food-added of a chamber: how much of a door's depth its walls keep depends on how long it was open.
#include <cmath>

#include "tests/support/catch.hpp"
#include "tests/support/kitchen_run.hpp"

using namespace ingle;
using namespace ingle::test;

namespace {

// A smoker at 93 degC that is opened for `open_s` at minute 40, falls by 50 K and comes back but for `share`
// of that.
std::size_t foods_told(double open_s, double share) {
    constexpr double depth_k = 50, opened_min = 40;
    Run run(one_vessel(VesselKind::smoker, {{85, 102}}));
    run.probe("p", probe_of([=](double minute) -> std::optional<double> {
                  double const s = 60 * (minute - opened_min);
                  if (s < 0) return 93.0;
                  double const bottom = 93 - depth_k, end = 93 - share * depth_k;
                  if (s < open_s) return 93 - depth_k * -std::expm1(-s / 12);
                  return end - (end - bottom) * std::exp(-(s - open_s) / 60);
              }));
    run.until(60);
    CHECK(run.events("door-opened").size() == 1);
    return run.events("food-added").size();
}

}  // namespace

TEST_CASE("what a door leaves missing is judged by how long it was open") {
    CHECK(foods_told(40, 0.16) == 1);   // the walls cannot have lost so much in so short a time
    CHECK(foods_told(120, 0.16) == 0);  // they can in two minutes
    CHECK(foods_told(120, 0.22) == 1);
    CHECK(foods_told(60, 0.10) == 0);
}
