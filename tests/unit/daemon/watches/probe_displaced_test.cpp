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
