// probe-displaced: out of the liquid, told from what boils in a hot pan; and over a restart.
#include <cmath>

#include "tests/support/catch.hpp"
#include "tests/support/kitchen_run.hpp"

using namespace ingle;
using namespace ingle::test;

namespace {

Settings fryer() {
    auto settings = one_vessel(VesselKind::pot, {{165, 195}});
    settings.vessels[0].liquid = Liquid::fat;
    return settings;
}
// From 180 degC at ten minutes to `end`, with a time constant in seconds.
Source falls_to(double end, double tau_s) {
    return probe_of([=](double minute) {
        double const s = minute * 60 - 600;
        return std::optional(s < 0 ? 180.0 : end + (180 - end) * std::exp(-s / tau_s));
    });
}

}  // namespace

TEST_CASE("what comes to rest at the boil out of hot fat is not out of it; in the air it goes on") {
    for (double const tau_s : {2.0, 9.0, 18.0}) {
        INFO("time constant " << tau_s << " s");
        Run wet(fryer());
        wet.probe("p", falls_to(99.5, tau_s));
        wet.until(20);
        CHECK(wet.alarms("probe-displaced").empty());
        CHECK(wet.alarms("below-band").size() == 1);  // which is true
        Run lifted(fryer());
        lifted.probe("p", falls_to(24, tau_s));
        lifted.until(20);
        REQUIRE(lifted.alarms("probe-displaced").size() == 1);
        CHECK(lifted.alarms("probe-displaced")[0].raised < 12);
    }
}

TEST_CASE("a restart in the middle of the fall hides it from nobody") {
    for (double const minute : {10.1, 10.2, 10.4}) {
        INFO("restarted at " << minute << " min");
        Run run(one_vessel(VesselKind::pot, {{80, 90}}));
        run.probe("p", probe_of([](double m) {
                      double const s = m * 60 - 600;
                      return std::optional(s < 0 ? 85.0 : 24 + 61 * std::exp(-s / 12));
                  }));
        run.until(minute);
        run.restart(std::chrono::seconds(2));
        run.until(14);
        CHECK(run.alarms("probe-displaced").size() == 1);
    }
}

TEST_CASE("what no water can be is not what it fell from, and the pot may be right: the unit is asked for") {
    Run run(one_vessel(VesselKind::pot, {{80, 90}}));
    run.probe("p", probe_of([](double minute) -> std::optional<double> {
                  if (minute >= 10 && minute < 12) return 183.2;  // 84.0 degC, sent as degF
                  return 84.0;
              }));
    run.until(11.9);
    REQUIRE(run.alarms("above-band").size() == 1);
    CHECK_THAT(
        run.alarms("above-band")[0].text,
        INGLE_CONTAINS("No water is so hot") && INGLE_CONTAINS("sends degF for degC: that would be 84.0"));
    run.until(20);
    CHECK(run.alarms("probe-displaced").empty());
}

TEST_CASE("a tip that stands in the band again is back, and the fall is told as it was read") {
    Run run(one_vessel(VesselKind::pot, {{42, 48}}));
    run.probe("p", probe_of([](double minute) -> std::optional<double> {
                  if (minute < 10) return 98.0;  // milk, before it cools down to be fermented
                  if (minute < 10.1) return 60.0;
                  if (minute < 10.5) return std::nullopt;
                  return minute < 12 ? 22.0 : 45.0;
              }));
    run.until(11.9);
    REQUIRE(run.alarms("probe-displaced").size() == 1);
    CHECK_THAT(run.alarms("probe-displaced")[0].text,
               INGLE_CONTAINS("fell from 98.") && INGLE_CONTAINS(" to 60."));
    run.until(16);
    CHECK(run.kitchen().view().vessels[0].phase == "in band");
    REQUIRE(run.alarms("probe-displaced").size() == 1);
    CHECK(run.alarms("probe-displaced")[0].cleared);
}
