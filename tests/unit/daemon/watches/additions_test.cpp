// topped-up: what was poured in stays down; a tip that was pulled half out is back within a minute.
#include <cmath>

#include "tests/support/catch.hpp"
#include "tests/support/kitchen_run.hpp"

using namespace ingle;
using namespace ingle::test;

namespace {

int told(std::function<double(double)> celsius_at_second) {
    Run run(one_vessel(VesselKind::pot, {{80, 96}}));
    run.probe("p", probe_of([=](double minute) { return std::optional(celsius_at_second(minute * 60)); }, 5));
    run.until(40);
    return static_cast<int>(run.events("topped-up").size() + run.events("food-added").size());
}

}  // namespace

TEST_CASE("a tip that is pulled half out for most of a minute is told as nothing that was poured in") {
    for (double const out_s : {20.0, 40.0, 55.0})
        for (double const tau_s : {2.0, 8.0, 20.0}) {
            INFO(out_s << " s out, time constant " << tau_s << " s");
            CHECK(told([=](double s) {
                      double const fell = 8 * -std::expm1(-(std::min(s - 1200, out_s)) / tau_s);
                      if (s < 1200) return 92.0;
                      return 92 - (s < 1200 + out_s ? fell : fell * std::exp(-(s - 1200 - out_s) / tau_s));
                  }) == 0);
        }
}

TEST_CASE("cold liquid is told: it mixes in seconds and stays until the flame makes up for it") {
    CHECK(told([](double s) {
              if (s < 1200) return 92.0;
              return 92 - 6 * -std::expm1(-(s - 1200) / 4) * std::exp(-(s - 1200) / 400);
          }) == 1);
}

TEST_CASE("what goes in soon after the tip was wiped is no pot that is too cold") {
    for (double const gap_s : {40.0, 75.0, 120.0, 200.0})
        for (double const tau_s : {2.0, 10.0}) {
            INFO("wiped " << gap_s << " s before, time constant " << tau_s << " s");
            Run run(one_vessel(VesselKind::pot, {{80, 90}}));
            run.probe("p", probe_of([=, shown = 85.0](double minute) mutable -> std::optional<double> {
                          double const s = minute * 60;
                          bool const wiped = s >= 1200 - gap_s && s < 1206 - gap_s;
                          double const pot = s < 1200 ? 85 : std::min(85.0, 77 + 3 * (s - 1205) / 60);
                          shown += ((wiped ? 30.0 : pot) - shown) * -std::expm1(-1 / tau_s);
                          return shown;
                      }));
            run.until(28);
            CHECK(run.alarms("below-band").empty());
        }
}

TEST_CASE(
    "a deep addition is an addition with a slow tip too: 94 to 73 degC, and back within a quarter of an "
    "hour") {
    for (double const tau_s : {2.0, 10.0, 30.0}) {
        INFO("time constant " << tau_s << " s");
        Run run(one_vessel(VesselKind::pot, {{88, 96}}));
        run.probe("p", probe_of([=, shown = 94.0](double minute) mutable -> std::optional<double> {
                      double const pot = minute < 40 ? 94
                                         : minute < 40.33
                                             ? 94 - 21 * (minute - 40) / .33
                                             : std::min(94.0, 73 + 17 * (minute - 40.33) / 11.67);
                      shown += (pot - shown) * -std::expm1(-1 / tau_s);
                      return shown;
                  }));
        run.until(58);
        CHECK(run.alarms("below-band").empty());
    }
}
