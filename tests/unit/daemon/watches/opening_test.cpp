// A door told from what a probe's own unrest does to it.
#include "daemon/watches/heat/opening.hpp"

#include <cmath>

#include "tests/support/catch.hpp"
#include "tests/support/kitchen_run.hpp"

using namespace ingle;
using namespace ingle::test;

namespace {

// A fridge at 4 degC whose probe wanders by `wander` K (90 s) beside 0.1 K of noise, in steps of 0.25 K;
// `warmer` K are added to it.
template <class Warmer>
int openings(double wander, double hours, std::uint64_t seed, Warmer warmer) {
    Opening opening(VesselKind::fridge);
    Dice dice(seed);
    double const keep = std::exp(-1 / 90.0);
    double slow = 0;
    int found = 0;
    for (int s = 0; s < static_cast<int>(hours * 3600); ++s) {
        slow = keep * slow + wander * std::sqrt(1 - keep * keep) * dice.normal();
        double const shown = std::round((4 + slow + warmer(s) + 0.1 * dice.normal()) * 4) / 4;
        found += opening.step(Instant(from_seconds(s)), shown, 21, 0.25).opened;
    }
    return found;
}
double shut(int) {
    return 0;
}

}  // namespace

TEST_CASE("a fridge's probe that wanders opens no door: at most one in two days") {
    int found = 0;
    for (std::uint64_t seed = 1; seed <= 8; ++seed) found += openings(0.25, 6, seed, shut);
    CHECK(found <= 1);
}

TEST_CASE("a door that costs 1.5 K in half a minute is found, once") {
    auto const opened = [](int s) {
        return s < 7200 ? 0.0
                        : 1.5 * std::exp(-std::max(0, s - 7230) / 300.0) * std::min(1.0, (s - 7200) / 30.0);
    };
    for (std::uint64_t seed = 1; seed <= 4; ++seed) {
        INFO("seed " << seed);
        CHECK(openings(0.08, 3, seed, opened) == 1);
    }
}

TEST_CASE("a fire that goes out over a restart is no door that was opened") {
    for (int const off_s : {0, 5, 12, 25, 40, 60}) {
        for (int const every_s : {1, 2, 5}) {
            INFO("off for " << off_s << " s, a reading each " << every_s << " s");
            auto settings = one_vessel(VesselKind::smoker, {{95, 115}});
            settings.probes[0].every = Duration{10};  // as the file says; it speaks more often
            Run run(settings);
            run.probe("p", probe_of([](double minute) {
                          double const s = minute * 60 - 540;
                          return std::optional(s < 0 ? 105.0 : 25 + 80 * std::exp(-s / 450));
                      }),
                      every_s);
            run.until(592.0 / 60);
            run.restart(std::chrono::seconds(off_s));
            run.until(14);
            CHECK(run.events("door-opened").empty());
            CHECK(run.alarms("below-band").size() + run.alarms("heat-lost").size() > 0);
        }
    }
}
