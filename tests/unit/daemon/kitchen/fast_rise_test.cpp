// A fast rise in a pot of which little is known yet is told: by its level at once, and before it boils.
#include <algorithm>
#include <cmath>

#include "tests/support/catch.hpp"
#include "tests/support/kitchen_run.hpp"

using namespace ingle;
using namespace ingle::test;

namespace {

double first_told(Run const& run) {
    double first = 1e9;
    for (auto const* name : {"leaving-band", "above-band", "boil-over-risk"})
        for (auto const& spell : run.alarms(name)) first = std::min(first, spell.raised);
    return first;
}

}  // namespace

TEST_CASE("a pot that the program finds on its way to the boil is told a minute before it boils") {
    Run run(one_vessel(VesselKind::pot, {{82, 88}}));
    double const boils = (100 - 86.6) / 6;
    run.probe("p",
              probe_of([](double m) { return std::optional(std::min(100.0, 86.6 + 6 * m)); }, 1, 0.05, 0.1));
    run.until(4);
    REQUIRE(run.alarms("boil-over-risk").size() == 1);
    CHECK(run.alarms("boil-over-risk")[0].raised < boils - 1);
    CHECK(first_told(run) < 1.0);
}

TEST_CASE("a pot that boils up soon after a fall, from above its band, is told before it boils") {
    double const pace = GENERATE(6, 15, 20);  // K/min
    CAPTURE(pace);
    Run run(one_vessel(VesselKind::pot, {{82, 88}}));
    run.probe("p", probe_of(
                       [=](double m) {
                           if (m < 5) return std::optional(110.0);
                           return std::optional(m < 6.6 ? 85.0 : std::min(110.0, 85 + pace * (m - 6.6)));
                       },
                       2, 0.05, 0.1));
    run.until(6.6 + 15 / pace);
    auto const risk = run.alarms("boil-over-risk");
    REQUIRE_FALSE(risk.empty());
    CHECK(risk.back().raised > 6.6);
    CHECK(risk.back().raised < 6.6 + std::min(0.75, 0.75 * 15 / pace));
}

TEST_CASE("a slow tip that is put into a hot pot is on no way to the boil") {
    double const tau_s = GENERATE(9, 18, 37), step = GENERATE(0.1, 0.5, 1.0);
    CAPTURE(tau_s, step);
    Run run(one_vessel(VesselKind::pot, {{82, 88}}));
    run.probe("p", probe_of(
                       [=](double m) {
                           return std::optional(m < 3 ? 22.0 : 85 - 63 * std::exp(-(m - 3) * 60 / tau_s));
                       },
                       3, 0.05, step));
    run.until(10);
    CHECK(run.alarms("boil-over-risk").empty());
    CHECK(run.alarms("above-band").empty());
}

TEST_CASE("after a leap down a climb is believed by readings that came since, and by no others") {
    double const pace = GENERATE(20, 45), low = GENERATE(24, 40),
                 step = GENERATE(0.0, 0.1);  // K/min, degC, K
    CAPTURE(pace, low, step);
    Run run(one_vessel(VesselKind::pot, {{82, 88}}));
    run.probe("p", probe_of([=](double m) { return std::optional(m < 5 ? 85.0 : low + pace * (m - 5)); }, 4,
                            0.05, step));
    double believed_s = 0;
    for (int s = 1; s < 60 && believed_s == 0; ++s) {
        run.until(5 + s / 60.0);
        auto const view = run.kitchen().view();
        auto const slope = view.probes[0].slope_k_per_min;
        if (slope && *slope > pace / 2) believed_s = s;
        if (s < 30) CHECK_FALSE(view.vessels[0].forecast);
    }
    CHECK(believed_s >= 30);
    CHECK(believed_s <= 45);
}

TEST_CASE("a pot that boils up is told before it boils however rarely it is read") {
    int const every = GENERATE(1, 5, 10, 15, 20, 25, 29, 30, 31, 40, 60);
    CAPTURE(every);
    Run run(one_vessel(VesselKind::pot, {{82, 88}}));
    constexpr double pace = 2.4;  // K/min
    run.probe(
        "p",
        probe_of([=](double m) { return std::optional(std::min(100.0, 85 + pace * std::max(0.0, m - 20))); },
                 6, 0.05, 0.1),
        every);
    double const boils = 20 + 15 / pace;
    run.until(boils + 2);
    auto const risk = run.alarms("boil-over-risk");
    REQUIRE_FALSE(risk.empty());
    CHECK(risk.front().raised > 20);
    CHECK(risk.front().raised < boils - 1);
}
