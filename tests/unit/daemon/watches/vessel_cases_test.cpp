// Field cases that concern vessels and the probes in them, with the inputs as they were told, run through the
// whole core. More of them: tests/unit/daemon/kitchen.
#include <cmath>

#include "tests/support/catch.hpp"
#include "tests/support/kitchen_run.hpp"

using namespace ingle;
using namespace ingle::test;

namespace {

int count(Run const& run, std::string_view event) {
    return static_cast<int>(run.events(event).size());
}

}  // namespace

// field cases A2, F2
TEST_CASE("A2, F2: a probe that loses every third reading still tells that the pot is about to boil over") {
    Run run(one_vessel(VesselKind::pot, {{80, 90}}));
    auto const pot = probe_of(Series{{0, 86}, {20, 86}, {28.57, 98}, {30, 99.5}, {33, 99.9}});
    run.probe("p", [pot](double s, Instant at) -> std::optional<Reading> {
        if (static_cast<int>(s) % 3 == 0)
            return Reading::faulty(at, FaultKind::short_to_ground, "short to ground");
        return pot(s, at);
    });
    run.until(25);
    CHECK(run.alarms("probe-unreliable").size() == 1);
    CHECK(run.alarms("boil-over-risk").size() == 1);
    CHECK(run.kitchen().view().probes[0].quality == Quality::doubtful);
}

// field case A5
TEST_CASE("A5: swapped twice: the reading drifts away from another one, and no calibration cures that") {
    auto settings = one_vessel(VesselKind::pot, {{75, 90}});
    settings.vessels[0].more.push_back(add_probe(settings, "q"));
    Run run(settings);
    run.probe("p", probe_of(Series{{0, 80}, {40, 80}}, 3));
    run.probe("q", probe_of(Series{{0, 68}, {40, 28}}, 4));  // 80 - 2 (joint - board), joint 30 to 50
    run.until(40);
    REQUIRE(count(run, "probes-disagree") == 1);
    CHECK_THAT(run.events("probes-disagree")[0].second.text, INGLE_CONTAINS("two swaps"));
    CHECK_THAT(run.events("probes-disagree")[0].second.text, INGLE_CONTAINS("no calibration"));
    SECTION("what is constant is not a drift") {
        Run calm(settings);
        calm.probe("p", probe_of(Series{{0, 80}, {40, 80}}, 3));
        calm.probe("q", probe_of(Series{{0, 71}, {40, 71}}, 4));
        calm.until(40);
        CHECK(count(calm, "probes-disagree") == 0);
    }
}

// field case A6
TEST_CASE("A6: a plateau where nothing boils asks for the probe's type") {
    auto settings = one_vessel(VesselKind::pot, {});
    settings.altitude = Length{1500};  // boils at 95
    SECTION("a K probe set as J: 79.0 for 95") {
        Run run(settings);
        run.probe("p", probe_of(Series{{0, 7.9}, {25, 79.0}, {50, 79.0}}));
        run.until(50);
        REQUIRE(count(run, "note") == 1);
        CHECK_THAT(run.events("note")[0].second.text, INGLE_CONTAINS("type"));
        CHECK_THAT(run.events("note")[0].second.text, INGLE_CONTAINS("95."));
        CHECK_FALSE(run.events("note")[0].first > 40);
    }
    SECTION("a J probe read as K: 116 for 95") {
        Run run(settings);
        run.probe("p", probe_of(Series{{0, -1.1}, {25, 116.0}, {50, 116.0}}));
        run.until(50);
        CHECK(count(run, "note") == 1);
    }
    SECTION("a pot that really boils, and one that is held") {
        Run run(settings);
        run.probe("p", probe_of(Series{{0, 4}, {25, 95}, {50, 95}}));
        run.until(50);
        CHECK(count(run, "note") == 0);
        auto held = settings;
        held.vessels[0].band = Band{{76}, {82}};
        Run poach(held);
        poach.probe("p", probe_of(Series{{0, 7.9}, {25, 79.0}, {50, 79.0}}));
        poach.until(50);
        CHECK(count(poach, "note") == 0);
    }
}

// field case A10
TEST_CASE("A10: grounded tips meet in one pan: an event that names both, doubt, and no notice") {
    auto settings = one_vessel(VesselKind::pot, {{85, 91}});
    settings.vessels[0].more.push_back(add_probe(settings, "q"));
    Run run(settings);
    run.probe("p", [](double s, Instant at) -> std::optional<Reading> {
        if (s < 600 || s >= 1200) return Reading::good(at, 88.0);
        switch (static_cast<int>(s) % 5) {
            case 0:
                return Reading::good(at, 95.5);
            case 1:
                return Reading::good(at, 81.0);
            case 2:
                return Reading::faulty(at, FaultKind::short_to_ground, "short to ground");
            case 3:
                return Reading::good(at, 96.25);
            default:
                return Reading::good(at, 80.5);
        }
    });
    run.probe("q", probe_of([](double m) { return std::optional(m < 10 || m >= 20 ? 22.0 : 88.0); }, 2));
    run.until(9.9);
    CHECK(count(run, "interference") == 0);
    run.until(15);
    REQUIRE(count(run, "interference") == 1);
    CHECK_THAT(run.events("interference")[0].second.text, INGLE_CONTAINS("p became noisy when q changed"));
    CHECK_THAT(run.events("interference")[0].second.text, INGLE_CONTAINS("same metal"));
    CHECK(run.events("interference")[0].first < 11.5);
    CHECK(run.kitchen().view().probes[0].quality != Quality::good);
    CHECK(run.kitchen().view().probes[1].quality == Quality::doubtful);
    CHECK(run.kitchen().view().vessels[0].phase == "readings doubtful");
    run.until(30);
    CHECK(count(run, "interference-ended") == 1);
    CHECK(run.kitchen().view().probes[1].quality == Quality::good);
    CHECK(run.alarms("above-band").empty());
    CHECK(run.alarms("below-band").empty());
    CHECK(run.alarms("boil-over-risk").empty());
    CHECK(run.alarms("boiling").empty());
    CHECK(run.alarms("leaving-band").empty());
}

// field case A11
TEST_CASE("A11: spikes at the rhythm of a compressor, on two probes at once: one event, never a notice") {
    auto settings = one_vessel(VesselKind::fridge, {{1, 6}});
    settings.probes[0].every = Duration{10};
    settings.vessels[0].more.push_back(add_probe(settings, "q", 10));
    Run run(settings);
    auto const spiky = [](double s, Instant at) -> std::optional<Reading> {
        return Reading::good(at, static_cast<int>(s) % 1080 == 540 ? 31.5 : 4.1);
    };
    run.probe("p", spiky, 10);
    run.probe("q", spiky, 10);
    run.until(360);
    REQUIRE(count(run, "periodic-interference") == 1);
    auto const event = run.events("periodic-interference")[0].second;
    CHECK_THAT(event.text, INGLE_CONTAINS("p and q get at once"));
    CHECK_THAT(event.text, INGLE_CONTAINS("18 min"));
    CHECK(run.raised().empty());
    CHECK(*run.kitchen().summary().vessels[0].max_c == 4.1);
    SECTION("irregular and rare ones are no rhythm") {
        Run rare(one_vessel(VesselKind::fridge, {{1, 6}}));
        rare.probe("p", [](double s, Instant at) -> std::optional<Reading> {
            bool const wild = s == 700 || s == 2900 || s == 5100 || s == 12'000 || s == 13'900;
            return Reading::good(at, wild ? 31.5 : 4.1);
        });
        rare.until(360);
        CHECK(count(rare, "periodic-interference") == 0);
    }
}

// field case A20
TEST_CASE("A20: a fridge's sensor that says 3.875 for 25 minutes is not stuck") {
    Run run(one_vessel(VesselKind::fridge, {{1, 5}}));
    run.probe("p", [](double s, Instant at) -> std::optional<Reading> {
        double const m = s / 60;
        double const c = m > 300 && m < 325 ? 3.875 : 3.875 + 0.4 * std::sin(m / 6);
        return Reading::good(at, std::round(c * 16) / 16);
    });
    run.until(400);
    CHECK(run.alarms("probe-stuck").empty());
}

// field case A22
TEST_CASE("A22: the chip beside the hob warms up") {
    auto const with_board = [](double rise, bool copper) {
        return [=](double s, Instant at) -> std::optional<Reading> {
            double const board = 24 + rise * s / 5400;
            auto reading = Reading::good(at, copper ? 64 + board - 24 : 85.0);
            reading.cold_junction = std::round(board * 16) / 16;
            return reading;
        };
    };
    SECTION("with the proper wire nothing needs to be said") {
        Run run(one_vessel(VesselKind::pot, {}));
        run.probe("p", with_board(22, false));
        run.until(90);
        CHECK(count(run, "note") == 0);
        CHECK(count(run, "cold-junction-warm") == 0);
    }
    SECTION("copper instead of extension wire: the reading climbs as the board does") {
        Run run(one_vessel(VesselKind::pot, {}));
        run.probe("p", with_board(22, true));
        run.until(90);
        REQUIRE(count(run, "note") == 1);
        CHECK_THAT(run.events("note")[0].second.text, INGLE_CONTAINS("joint"));
    }
    SECTION("hot, or warming fast") {
        Run run(one_vessel(VesselKind::pot, {}));
        run.probe("p", with_board(60, false));  // 0.67 K/min, and over 60 degC from minute 54
        run.until(90);
        REQUIRE(count(run, "cold-junction-warm") == 2);
        CHECK_THAT(run.events("cold-junction-warm")[0].second.text, INGLE_CONTAINS("/min"));
        CHECK(run.events("cold-junction-warm")[1].first > 54);
        CHECK(run.events("cold-junction-warm")[1].first < 55);
    }
}

// field case E2
TEST_CASE("E2: a pit that sticks at 80 is told once, after an hour and a half") {
    Run run(one_vessel(VesselKind::smoker, {{100, 120}}));
    run.probe("p", probe_of(Series{{0, 18}, {40, 80}, {160, 80}}));
    run.until(160);
    REQUIRE(run.alarms("slow-to-reach").size() == 1);
    CHECK(run.alarms("slow-to-reach")[0].raised > 89);
    CHECK(run.alarms("slow-to-reach")[0].raised < 93);
    CHECK(run.raised().size() == 1);
}

// field case F9
TEST_CASE("F9: a probe that touches the food as it goes in, and is moved") {
    auto settings = one_vessel(VesselKind::smoker, {{150, 180}});
    int const core = add_probe(settings, "core");
    add_dish(settings, "shoulder", 0, core);
    Run run(settings);
    run.probe("p",
              probe_of(Series{{0, 165}, {30, 165}, {30.1, 88}, {50, 88}, {50.8, 121}, {52, 121}, {80, 121}}));
    run.probe("core", probe_of(Series{{0, 20}, {30, 5}, {80, 30}}));
    run.until(30);
    run.tell(Begin{0});
    run.until(49);
    REQUIRE(count(run, "note") == 1);
    CHECK_THAT(run.events("note")[0].second.text, INGLE_CONTAINS("may touch the food"));
    auto const lost = run.alarms("heat-lost");
    for (auto const& spell : lost) {  // a word about it, not a siren
        CHECK(spell.priority == Priority::low);
        CHECK_THAT(spell.text, INGLE_CONTAINS("touches the food"));
    }
    run.until(52);
    REQUIRE(count(run, "probe-moved") == 1);
    CHECK_THAT(run.events("probe-moved")[0].second.text, INGLE_CONTAINS("moved"));
    CHECK(count(run, "door-closed") == 0);
}

// field case F13
TEST_CASE("F13: fridge air and brine are two things") {
    auto settings = one_vessel(VesselKind::fridge, {{1, 5}});
    add_vessel(settings, "brine", VesselKind::bath, add_probe(settings, "b"), {{1, 4.4}});
    add_dish(settings, "trout", 0, 1);  // in the brine, in the fridge
    Run run(settings);
    SECTION("a: the door is ajar, the brine has hardly moved") {
        run.probe("p", probe_of(Series{{0, 3}, {60, 3}, {80, 11}, {240, 11}}));
        run.probe("b", probe_of(Series{{0, 3.4}, {60, 3.4}, {150, 4.0}, {240, 4.6}}, 1, 0.05, 0.0625));
        run.until(1);
        run.tell(Begin{0});
        run.until(100);
        auto const high = run.alarms("above-band", "v");
        // 5 degC is passed at minute 65; what has warmed for minutes is no opening, and waits less than ten.
        REQUIRE(high.size() == 1);
        CHECK_THAT(high[0].text, INGLE_CONTAINS("Inside, trout is at 3."));
        CHECK(high[0].raised > 66);
        CHECK(high[0].raised < 70);
        CHECK(run.alarms("above-band", "brine").empty());
    }
    SECTION("b: a warm brine was set in") {
        run.probe("p", probe_of(Series{{0, 3}, {60, 3}, {90, 8}, {240, 8}, {300, 4}, {900, 3.5}}));
        run.probe("b", probe_of([](double m) -> std::optional<double> {
                      return m < 60 ? std::optional<double>() : 3.2 + 26.8 * std::exp(-(m - 60) / 240);
                  }));
        run.until(900);
        CHECK(run.alarms("above-band", "v").size() == 1);
        CHECK(run.alarms("above-band", "brine").empty());  // on its way down: a deadline watches that
    }
}

// field case F15
TEST_CASE("F15: a hot pot in the fridge is told once, not every hour") {
    Run run(one_vessel(VesselKind::fridge, {{1, 5}}));
    run.probe("p", probe_of(Series{{0, 3}, {60, 3}, {100, 10}, {340, 10}, {600, 5}, {700, 4}}));
    run.until(700);
    CHECK(run.alarms("above-band").size() == 1);
    CHECK(run.alarms("leaving-band").size() <= 1);
}

// field case F16
TEST_CASE("F16: the power was out overnight: a gap, and the value now, without a verdict") {
    Run run(one_vessel(VesselKind::fridge, {{1, 5}}));
    run.probe("p", probe_of([](double m) -> std::optional<double> {
                  if (m < 70) return 3.6;
                  return std::max(4.0, 6.9 - (m - 340) * 2.9 / 60);
              }));
    run.until(70);
    run.restart(std::chrono::minutes(270));
    run.until(400);
    REQUIRE(count(run, "gap") == 1);
    CHECK_THAT(run.events("gap")[0].second.text, INGLE_CONTAINS("4 h 30 min"));
    CHECK(run.alarms("above-band").size() == 1);  // 6.9, and 35 min above the limit
}

// field case F17
TEST_CASE("F17: a tripped socket: a hint while it creeps, a notice at the limit and its delay") {
    Run run(one_vessel(VesselKind::fridge, {{1, 5}}));
    run.probe("p", probe_of(Series{{0, 3}, {120, 3}, {960, 20}}, 1, 0.1, 0.0625));
    run.until(400);
    auto const early = run.alarms("leaving-band");
    auto const high = run.alarms("above-band");
    REQUIRE(early.size() == 1);
    REQUIRE(high.size() == 1);
    CHECK(early[0].raised < 219);  // 5 degC is passed at minute 218.8
    CHECK_THAT(early[0].text, INGLE_CONTAINS("whether it runs"));
    CHECK(high[0].raised > 228);
    CHECK(high[0].raised < 250);
}

TEST_CASE("a fridge whose compressor does not start is told before its limit") {
    Run run(one_vessel(VesselKind::fridge, {{0, 6.5}}));
    // Warms 2.6 to 4.8 in 20 min, cools in 10, as long as it has power; then it warms on.
    run.probe("p", probe_of(
                       [](double m) -> std::optional<double> {
                           double const in = std::fmod(m, 30);
                           if (m >= 180) return 2.6 + 5.6 * (1 - std::exp(-(m - 180) / 40));
                           return in < 20 ? 2.6 + 0.11 * in : 4.8 - 0.22 * (in - 20);
                       },
                       1, 0.08));
    run.until(179);
    CHECK(run.raised().empty());
    run.until(300);
    for (auto const& one : run.alarms("leaving-band"))
        UNSCOPED_INFO(one.raised << " to " << one.cleared.value_or(-1) << ": " << one.text);
    REQUIRE(run.alarms("leaving-band").size() == 1);
    CHECK(run.alarms("leaving-band")[0].raised < 180 + 47.6 - 5);  // 6.5 is passed 47.6 min later
    CHECK_THAT(run.alarms("leaving-band")[0].text, INGLE_CONTAINS("usually turns at"));
    CHECK(run.alarms("above-band").size() == 1);
}

TEST_CASE("a fridge's door: how far, how long, and how long the way back took") {
    Run run(one_vessel(VesselKind::fridge, {{1, 7}}));
    run.probe("p",
              probe_of(Series{{0, 3}, {30, 3}, {31, 5.5}, {40, 3.4}, {60, 3}, {90, 3}}, 1, 0.05, 0.0625));
    run.until(90);
    REQUIRE(count(run, "door-opened") == 1);
    REQUIRE(count(run, "door-closed") == 1);
    auto const shut = run.events("door-closed")[0].second;
    CHECK_THAT(shut.numbers[0].second, WithinAbs(2.5, 0.3));
    CHECK(shut.numbers[2].second > 300);
    CHECK(shut.numbers[2].second < 700);
    CHECK_THAT(shut.text, INGLE_CONTAINS("warmed by"));
    CHECK(run.raised().empty());
}

TEST_CASE("food that goes into a pot is not a ladle of water") {
    Run run(one_vessel(VesselKind::pot, {{84, 96}}));
    SECTION("food goes on taking heat for minutes") {
        run.probe("p", probe_of([](double m) -> std::optional<double> {
                      if (m < 40) return 94.0;
                      return 94 - 9 * (std::exp(-(m - 40) / 14) - std::exp(-(m - 40) / 1.2));
                  }));
        run.until(90);
        CHECK(count(run, "food-added") == 1);
        CHECK(count(run, "topped-up") == 0);
    }
    SECTION("a ladle mixes within seconds") {
        run.probe("p", probe_of(Series{{0, 94}, {40, 94}, {40.2, 87}, {60, 94}, {90, 94}}));
        run.until(90);
        CHECK(count(run, "food-added") == 0);
        CHECK(count(run, "topped-up") == 1);
    }
    CHECK(run.alarms("heat-lost").empty());  // the flame is as it was
    CHECK(run.alarms("below-band").empty());
}

TEST_CASE("at the start a vessel inside its band is said to be there, not to warm up") {
    Run run(one_vessel(VesselKind::fridge, {{1, 5}}));
    run.probe("p", probe_of(Series{{0, 3}, {60, 3}}));
    run.until(1);
    CHECK(run.kitchen().view().vessels[0].phase.starts_with("in band"));
    run.until(15);
    CHECK(run.kitchen().view().vessels[0].phase == "in band");
    Run warm(one_vessel(VesselKind::fridge, {{1, 5}}));
    warm.probe("p", probe_of(Series{{0, 12}, {60, 6}}));
    warm.until(1);
    CHECK(warm.kitchen().view().vessels[0].phase == "not there yet");
    warm.until(10);
    CHECK(warm.kitchen().view().vessels[0].phase == "cooling down");
}
