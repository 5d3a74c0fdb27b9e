// What stands beside a reading is of that reading: after a jump, and over a restart or a reload with one.
#include <cmath>
#include <cstdio>
#include <optional>

#include "tests/support/catch.hpp"
#include "tests/support/kitchen_run.hpp"

using namespace ingle;
using namespace ingle::test;

namespace {

// A pot that rises out of its band at the top, and jumps under it at `jump`; read at each half second.
struct Jumping {
    double jump = 0;
    double jumps_to = 80.5;
    Dice dice{5};
    double at(double s) {
        double const c = s < 600 ? 85.0 : 85.0 + (s - 600) * 1.1 / 60;
        double const value = s < jump ? c : jumps_to;
        return std::round((value + 0.05 * dice.normal()) / 0.1) * 0.1;
    }
};

// The alarm's level and rate are those of the probe's line; false: none is told.
bool as_the_line(View const& view, std::string_view name) {
    auto const& line = view.probes[0];
    for (auto const& alarm : view.alarms) {
        bool const heard = alarm.active && alarm.state != AlarmState::suppressed_by_design;
        if (alarm.type->name != name || !heard) continue;
        double level = 0, rate = 0;
        if (std::sscanf(alarm.text.c_str(), "v is at %lf degC, rising %lf degC/min", &level, &rate) < 2)
            continue;
        CAPTURE(alarm.text, *line.celsius, line.slope_k_per_min.value_or(-1));
        CHECK(std::abs(level - *line.celsius) < 0.3);
        REQUIRE(line.slope_k_per_min);
        CHECK(std::abs(rate - *line.slope_k_per_min) < 0.3);
        return true;
    }
    return false;
}

}  // namespace

TEST_CASE("no advice of before a jump stands beside a reading of after it") {
    bool const restarted = GENERATE(false, true);
    int const gap_s = GENERATE(0, 2);
    double const jumps_to = GENERATE(80.5, 83.5);
    CAPTURE(restarted, gap_s, jumps_to);
    auto const settings = one_vessel(VesselKind::pot, {{82.2, 87.8}});
    Jumping pot{740, jumps_to};
    Instant const start{Span(5'000'000)};
    std::optional<Kitchen> kitchen;
    kitchen.emplace(settings, start);
    Effects effects;
    int advised = 0;
    for (int s = 0; s < 900; ++s) {
        Instant const whole = start + std::chrono::seconds(s);
        if (restarted && s >= 740 && s < 740 + gap_s) continue;
        if (restarted && s == 740 + gap_s) {
            auto const memory = kitchen->remember();
            kitchen.emplace(settings, whole);
            kitchen->recall(memory, whole - std::chrono::seconds(gap_s), effects);
        }
        auto const check = [&] {
            auto const view = kitchen->view();
            auto const& vessel = view.vessels[0];
            advised += vessel.advice.empty() ? 0 : 1;
            bool const jumped = view.probes[0].celsius.value_or(100) < jumps_to + 1 && s >= 740;
            CAPTURE(s, vessel.phase, vessel.advice, view.probes[0].celsius.value_or(0));
            if (!jumped) return;
            CHECK(vessel.advice.find("down") == std::string::npos);
            CHECK_FALSE((vessel.forecast && vessel.forecast->direction > 0));
            for (auto const& alarm : view.alarms)
                CHECK_FALSE((alarm.active && alarm.action == Action::lower_heat &&
                             alarm.state == AlarmState::unacknowledged));
        };
        kitchen->advance(whole, effects);
        check();
        kitchen->take(0, Reading::good(whole + std::chrono::milliseconds(400), pot.at(s)), effects);
        check();
    }
    CHECK(advised > 20);  // before the jump
}

TEST_CASE("on a fast rise the alarm has the level and the rate of the line above it") {
    // Still for ten minutes, then 4.2 K/min.
    Run run(one_vessel(VesselKind::pot, {{82.2, 87.8}}));
    run.probe("p", probe_of(Series{{0, 83.5}, {10, 83.5}, {11, 87.7}, {12, 91.9}}, 3, 0.05, 0.1));
    int seen = 0;
    for (int s = 600; s < 690; ++s) {
        run.until(s / 60.0);
        seen += as_the_line(run.kitchen().view(), "leaving-band") ? 1 : 0;
    }
    CHECK(seen > 5);
}

TEST_CASE("on the way to the boil the alarm has the level and the rate of the line above it") {
    Run run(one_vessel(VesselKind::pot, {{82.2, 87.8}}));
    run.probe("p", probe_of(Series{{0, 85}, {10, 85}, {14, 97}, {15, 100}}, 3, 0.05, 0.1));
    int seen = 0;
    for (int s = 600; s < 850; ++s) {
        run.until(s / 60.0);
        seen += as_the_line(run.kitchen().view(), "boil-over-risk") ? 1 : 0;
    }
    CHECK(seen > 5);
}
