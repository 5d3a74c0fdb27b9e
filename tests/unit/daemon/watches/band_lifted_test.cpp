// What stands outside its band is not over because a hand took the probe out of it, or opened the door on it.
#include <algorithm>
#include <cmath>
#include <string>

#include "tests/support/catch.hpp"
#include "tests/support/kitchen_run.hpp"

using namespace ingle;
using namespace ingle::test;

namespace {

constexpr double lifted_at_s = 1800;

// From the middle of the band to where it then stands.
double on_its_way(double s, double held, double inside) {
    return held + (inside - held) * std::clamp((s - 240) / 360, 0.0, 1.0);
}

// A tip that follows what it touches with a time constant, 2.5 times as long in the air, between two seconds.
std::function<std::optional<double>(double)> lifted_from(double held, double inside, double air, double tau_s,
                                                         double for_s) {
    double const way = std::exp(-for_s / (2.5 * tau_s));
    return [=](double minute) -> std::optional<double> {
        double const s = minute * 60 - lifted_at_s;
        if (s < 0) return on_its_way(minute * 60, held, inside);
        if (s < for_s) return air + (inside - air) * std::exp(-s / (2.5 * tau_s));
        double const lowest = air + (inside - air) * way;
        return inside + (lowest - inside) * std::exp(-(s - for_s) / tau_s);
    };
}

Settings vessel_with_delays(VesselKind kind, std::pair<double, double> band, bool from_file) {
    auto settings = one_vessel(kind, band);
    if (from_file) settings.vessels[0].on_delay = settings.vessels[0].off_delay = Duration{2};
    return settings;
}

void expect_one_that_lasts(Run const& run, std::string_view alarm, std::string const& what) {
    INFO(what);
    auto const told = run.alarms(alarm);
    for (auto const& one : told)
        UNSCOPED_INFO(one.raised * 60 << " s to " << one.cleared.value_or(-1) * 60 << " s: " << one.text);
    for (auto const& one : run.raised()) UNSCOPED_INFO(one);
    CHECK(told.size() == 1);
    for (auto const& one : told) CHECK_FALSE(one.cleared);
}

}  // namespace

TEST_CASE("above-band is not over because the probe was lifted out of the pot for a moment") {
    for (bool const from_file : {true, false})
        for (double const at : {82.0, 88.0, 97.0})
            for (double const tau : {2.0, 5.0, 9.0, 18.0, 37.0})
                for (double const for_s : {5.0, 12.0, 24.0, 40.0, 90.0})
                    for (double const step : {0.1, 0.5, 1.0}) {
                        auto settings = vessel_with_delays(VesselKind::pot, {70, 80}, from_file);
                        settings.vessels[0].liquid = Liquid::fat;  // water would be about to boil
                        Run run(settings);
                        run.probe("p",
                                  probe_of(lifted_from(75, at, 22, tau, for_s),
                                           static_cast<std::uint64_t>(at + 7 * tau + for_s), 0.08, step));
                        run.until(38);
                        expect_one_that_lasts(run, "above-band",
                                              (from_file ? "2 s, at " : "default, at ") + std::to_string(at) +
                                                  ", tau " + std::to_string(tau) + ", for " +
                                                  std::to_string(for_s) + ", step " + std::to_string(step));
                    }
}

TEST_CASE("below-band of a fridge and above-band of an oven are not over because the door was opened") {
    for (bool const from_file : {true, false})
        for (double const tau : {9.0, 18.0, 37.0})
            for (double const for_s : {12.0, 24.0, 40.0, 90.0}) {
                auto const what = std::string(from_file ? "2 s" : "default") + ", tau " +
                                  std::to_string(tau) + ", for " + std::to_string(for_s);
                Run fridge(vessel_with_delays(VesselKind::fridge, {2, 6}, from_file));
                fridge.probe("p", probe_of(lifted_from(4, -1.5, 22, tau, for_s), 3, 0.05, 0.1));
                fridge.until(40);
                expect_one_that_lasts(fridge, "below-band", "fridge " + what);
                Run oven(vessel_with_delays(VesselKind::oven, {160, 180}, from_file));
                oven.probe("p", probe_of(lifted_from(170, 205, 40, tau, for_s), 4, 0.3, 0.25));
                oven.until(40);
                expect_one_that_lasts(oven, "above-band", "oven " + what);
            }
}

TEST_CASE("cold water that went in ends above-band, once the probe shows that it stands in it") {
    for (bool const from_file : {true, false})
        for (double const tau : {2.0, 9.0, 37.0}) {
            Run run(vessel_with_delays(VesselKind::pot, {70, 80}, from_file));
            run.probe("p", probe_of(
                               [=](double minute) -> std::optional<double> {
                                   double const s = minute * 60 - lifted_at_s;
                                   return s < 0 ? on_its_way(minute * 60, 75, 88)
                                                : 75 + 13 * std::exp(-s / tau);
                               },
                               5, 0.08, 0.1));
            run.until(40);
            auto const told = run.alarms("above-band");
            REQUIRE(told.size() == 1);
            REQUIRE(told[0].cleared);
            CHECK(*told[0].cleared * 60 < lifted_at_s + 300);
        }
}

TEST_CASE("a pot that cools by itself ends above-band as soon as its delay says") {
    Run run(vessel_with_delays(VesselKind::pot, {70, 80}, true));
    // 1 K/min: inside by the deadband, 1 K, three minutes after the limit was told.
    run.probe("p", probe_of(Series{{0, 75}, {2, 75}, {8, 83}, {15, 83}, {30, 68}}, 6, 0.08, 0.1));
    run.until(25);
    auto const told = run.alarms("above-band");
    REQUIRE(told.size() == 1);
    REQUIRE(told[0].cleared);
    CHECK(*told[0].cleared < 19.3);
}

TEST_CASE("one that leaps out of its band, and is lifted before it has settled there, is not over for that") {
    for (double const for_s : {6.0, 12.0, 24.0, 40.0})
        for (double const tau : {0.5, 2.0, 5.0}) {
            auto settings = vessel_with_delays(VesselKind::pot, {70, 80}, true);
            settings.vessels[0].liquid = Liquid::fat;
            Run run(settings);
            run.probe("p", probe_of(
                               [=](double minute) -> std::optional<double> {
                                   double const s = minute * 60 - lifted_at_s;
                                   if (s < -15) return 75;
                                   if (s < 0) return 97 - 22 * std::exp(-(s + 15) / tau);
                                   if (s < for_s) return 60 + 37 * std::exp(-s / tau);
                                   return 97 - 37 * std::exp(-(s - for_s) / tau);
                               },
                               7, 0.05, 0.1));
            run.until(30 + 0.8 * for_s / 60);
            for (auto const& alarm : run.kitchen().view().alarms)
                if (alarm.type->name == "above-band" && alarm.state != AlarmState::suppressed_by_design)
                    CHECK_THAT(alarm.text,
                               INGLE_CONTAINS("is not known: its reading moves faster than v can"));
            run.until(31);
            INFO("for " << for_s << " s, tau " << tau);
            auto const told = run.alarms("above-band");
            for (auto const& one : told)
                UNSCOPED_INFO(one.raised * 60 << " s to " << one.cleared.value_or(-1) * 60 << " s");
            for (auto const& one : run.raised()) UNSCOPED_INFO(one);
            CHECK(told.size() <= 1);
            for (auto const& one : told) CHECK_FALSE(one.cleared);
        }
}

TEST_CASE("while a door may be open, that is what is said, and not that the probe was moved") {
    Run run(vessel_with_delays(VesselKind::oven, {160, 180}, true));
    run.probe("p", probe_of(lifted_from(170, 205, 40, 9, 60), 4, 0.3, 0.25));
    bool seen = false;
    for (double s = lifted_at_s + 5; s < lifted_at_s + 120; s += 5) {
        run.until(s / 60);
        for (auto const& alarm : run.kitchen().view().alarms)
            if (alarm.type->name == "above-band" && alarm.text.find("is not known") != std::string::npos) {
                seen = true;
                CHECK_THAT(alarm.text, INGLE_CONTAINS("is not known: it moves as when its door is opened."));
            }
    }
    CHECK(seen);
}
