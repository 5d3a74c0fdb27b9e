// A fast rise in a pot of which little is known yet, read in coarse steps and by a slow tip.
#include <algorithm>
#include <cmath>
#include <string>
#include <vector>

#include "tests/support/catch.hpp"
#include "tests/support/kitchen_run.hpp"

using namespace ingle;
using namespace ingle::test;

namespace {

constexpr double high = 87.8;

// A pot that stands at `from_c` and begins to rise `from_s` after the first reading, and how it is read.
struct Rise {
    double k_per_min, from_s, tau_s, from_c, noise, step;
    std::uint64_t seed;

    double exit_s() const { return from_s + (high - from_c) / (k_per_min / 60); }
    Run run() const {
        Run run(one_vessel(VesselKind::pot, {{82.2, high}}));
        auto const tip = [rise = *this](double minute) {
            double const s = std::max(minute * 60 - rise.from_s, 0.0),
                         behind_s = rise.tau_s * -std::expm1(-s / rise.tau_s);
            return std::min(rise.from_c + rise.k_per_min / 60 * (s - behind_s), 99.3);
        };
        run.probe("p", probe_of(tip, seed, noise, step));
        return run;
    }
    std::string words() const {
        return std::to_string(k_per_min) + " K/min from " + std::to_string(from_c) + " at " +
               std::to_string(from_s) + " s" + ", tau " + std::to_string(tau_s) + ", noise " +
               std::to_string(noise) + ", step " + std::to_string(step) + ", seed " + std::to_string(seed);
    }
};

std::vector<Rise> rises(double tau_s, double step) {
    std::vector<Rise> all;
    for (double const k_per_min : {9.0, 15.0, 18.0, 21.0})
        for (double const from_s : {25.0, 40.0, 55.0})
            for (double const from_c : {84.0, 86.2})
                for (double const noise : {0.05, 0.13})
                    for (std::uint64_t const seed : {1U, 2U, 3U})
                        all.push_back({k_per_min, from_s, tau_s, from_c, noise, step, seed});
    return all;
}

}  // namespace

TEST_CASE("a tip that goes on out of the band is told of, and is not waited for to stand still") {
    for (double const tau_s : {2.0, 6.0})
        for (double const step : {0.1, 0.5})
            for (auto const& rise : rises(tau_s, step)) {
                auto run = rise.run();
                run.until(std::max(75.0, rise.exit_s() + 40 + 2 * tau_s) / 60);
                INFO(rise.words());
                CHECK(!run.raised().empty());
            }
}
