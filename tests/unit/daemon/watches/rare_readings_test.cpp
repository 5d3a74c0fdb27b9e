// A probe that is read once a minute or less, and is somewhere else for some of its readings.
#include <cmath>
#include <string>

#include "tests/support/catch.hpp"
#include "tests/support/kitchen_run.hpp"

using namespace ingle;
using namespace ingle::test;

TEST_CASE("a probe that is put back between two rare readings has not risen there") {
    for (int const every : {60, 90, 120})
        for (double const tau : {3.0, 12.0})
            for (int const phase : {0, 17, 41})
                for (double const out_for_s : {60.0, 130.0, 300.0, 700.0}) {
                    Run run(one_vessel(VesselKind::pot, {{82.2, 87.8}}));
                    double const out_s = 3000 + phase, back_s = out_s + out_for_s;
                    run.probe(
                        "p",
                        probe_of(
                            [=](double minute) -> std::optional<double> {
                                double const s = minute * 60;
                                if (s < out_s) return 84.5;
                                double const air = std::exp(-(std::min(s, back_s) - out_s) / (2.5 * tau));
                                double const tip = 22 + 62.5 * air;
                                return s < back_s ? tip : 84.5 + (tip - 84.5) * std::exp(-(s - back_s) / tau);
                            },
                            9, 0.15, 0.1),
                        every);
                    run.until(100);
                    INFO("every " << every << " s, tau " << tau << ", phase " << phase << ", out for "
                                  << out_for_s);
                    for (auto const& one : run.raised()) UNSCOPED_INFO(one);
                    CHECK(run.alarms("boil-over-risk").empty());
                    CHECK(run.alarms("leaving-band").empty());
                    CHECK(run.alarms("above-band").empty());
                    CHECK(run.alarms("boiling").empty());
                }
}
