// An element or a thermostat that switches itself off and on is no lost fire, and no way out of a band.
#include <algorithm>
#include <cmath>
#include <optional>

#include "tests/support/catch.hpp"
#include "tests/support/kitchen_run.hpp"

using namespace ingle;
using namespace ingle::test;

namespace {

// A covered pot on an element that is on for a share of each period: 4186 J/(kg K), 7 W/K to the room.
struct OnOffHob {
    double watts, period_s, on_s, kg;
    double off_from_s = 1e9;
};
Source on_hob(OnOffHob hob, std::uint64_t seed, double noise = 0.15, double step = 0.1) {
    double celsius = 84.5;
    double at = 0;
    auto source = probe_of(
        [=](double minute) mutable {
            for (; at < minute * 60; ++at) {
                bool const on = at < hob.off_from_s && std::fmod(at, hob.period_s) < hob.on_s;
                celsius += ((on ? hob.watts : 0) - 7 * (celsius - 20)) / (hob.kg * 4186);
            }
            return std::optional(celsius);
        },
        seed, noise, step);
    return source;
}

// An oven's air under a thermostat, whose door is opened for a while.
Source in_oven(double opened_s, double open_for_s, std::uint64_t seed) {
    struct Air {
        double celsius = 204, tip = 204, at = 0;
        bool on = true;
    };
    auto air = std::make_shared<Air>();
    return probe_of(
        [=](double minute) {
            for (; air->at < minute * 60; ++air->at) {
                if (air->celsius > 210) air->on = false;
                if (air->celsius < 198) air->on = true;
                bool const open = air->at >= opened_s && air->at < opened_s + open_for_s;
                double const to = open ? 90 : air->on ? 330 : 100, tau = open ? 60 : 1200;
                air->celsius += (to - air->celsius) / tau;
                air->tip += (air->celsius - air->tip) / 20;
            }
            return std::optional(air->tip);
        },
        seed, 0.3, 0.1);
}

void show(Run const& run, char const* alarm) {
    for (auto const& one : run.alarms(alarm)) UNSCOPED_INFO(one.raised << " min: " << one.text);
}

}  // namespace

TEST_CASE("the off-time of an element is a lost fire at most until it has come back twice") {
    OnOffHob const hobs[] = {{1500, 300, 91, 6},  {1500, 360, 109, 6}, {1500, 420, 128, 6},
                             {1500, 480, 146, 6}, {2000, 420, 96, 6},  {1500, 420, 128, 9},
                             {1500, 480, 146, 5}, {1800, 540, 136, 6}, {2000, 600, 136, 7},
                             {1200, 480, 182, 4}};
    for (auto const& hob : hobs)
        for (int const every : {1, 5, 10, 20})
            for (std::uint64_t const seed : {1UL, 2UL}) {
                Run run(one_vessel(VesselKind::pot, {{82.2, 87.8}}));
                run.probe("p", on_hob(hob, seed), every);
                run.until(300);
                INFO(hob.watts << " W, " << hob.period_s << " s, " << hob.kg << " kg, every " << every
                               << " s");
                show(run, "heat-lost");
                CHECK(run.alarms("heat-lost").size() <= 2);
            }
}

TEST_CASE("an element that stays off is told, however regular it was before") {
    OnOffHob hobs[] = {{1500, 300, 91, 6}, {1500, 420, 128, 6}, {1500, 480, 146, 6}, {2000, 600, 136, 7}};
    for (auto& hob : hobs)
        for (int const every : {1, 10})
            for (double const at_min : {35.0, 150.0, 152.0, 154.0}) {
                hob.off_from_s = at_min * 60;
                Run run(one_vessel(VesselKind::pot, {{82.2, 87.8}}));
                run.probe("p", on_hob(hob, 3), every);
                run.until(at_min + 25);
                INFO(hob.watts << " W, " << hob.period_s << " s, " << hob.kg << " kg, off at " << at_min);
                show(run, "heat-lost");
                REQUIRE_FALSE(run.alarms("heat-lost").empty());
                auto const last = run.alarms("heat-lost").back();
                bool const still = !last.cleared || *last.cleared > at_min + 20;
                CHECK(still);
                // Its last heat lasts for a period, then it falls for minutes as it usually does.
                CHECK(last.raised < at_min + hob.period_s / 60 + 8);
            }
}

TEST_CASE("a thermostat that swings inside its band leaves none after its door was opened") {
    for (double const open_for_s : {10.0, 25.0, 60.0})
        for (int const every : {1, 10})
            for (std::uint64_t const seed : {1UL, 2UL, 3UL}) {
                Run run(one_vessel(VesselKind::oven, {{196.1, 212.8}}));
                run.probe("p", in_oven(5000 + 40.0 * static_cast<double>(seed), open_for_s, seed), every);
                run.until(80);
                auto const before = run.alarms("leaving-band").size();
                run.until(300);
                INFO("open for " << open_for_s << " s, every " << every << " s, seed " << seed);
                show(run, "leaving-band");
                CHECK(run.alarms("leaving-band").size() <= before + 2);
            }
}
