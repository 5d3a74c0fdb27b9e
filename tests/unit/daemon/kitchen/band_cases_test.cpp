// What went wrong for people with limits and silent probes (field cases E and A), run through the whole core.
#include "tests/support/catch.hpp"
#include "tests/support/kitchen_run.hpp"

using namespace ingle;
using namespace ingle::test;

// field case E1
TEST_CASE("E1: a value that dances on its limit for half an hour is one alarm and one all-clear") {
    auto settings = one_vessel(VesselKind::smoker, {{60, 70}});
    settings.probes[0].every = Duration{10};
    Run run(settings);
    run.probe(
        "p",
        [](double s, Instant at) -> std::optional<Reading> {
            if (s < 600) return Reading::good(at, 66);
            if (s < 2400) return Reading::good(at, std::fmod(s, 20) < 10 ? 69.9 : 70.1);
            return Reading::good(at, 66);
        },
        10);
    run.until(60);
    auto const high = run.alarms("above-band");
    REQUIRE(high.size() == 1);
    REQUIRE(high[0].cleared);
    CHECK(*high[0].cleared > 40);
    CHECK(run.alarms("below-band").empty());
}

// field case E2
TEST_CASE("E2: warming up is no alarm; not getting there is one") {
    SECTION("a pit that heats as it should") {
        Run run(one_vessel(VesselKind::smoker, {{100, 120}}));
        run.probe("p", probe_of(Series{{0, 18}, {55, 105}, {120, 106}}));
        run.until(120);
        CHECK(run.alarms("below-band").empty());
        CHECK(run.alarms("above-band").empty());
    }
    SECTION("once reached, the low side is armed") {
        Run run(one_vessel(VesselKind::smoker, {{100, 120}}));
        run.probe("p", probe_of(Series{{0, 18}, {55, 105}, {80, 105}, {90, 95}, {120, 95}}));
        run.until(120);
        CHECK(run.alarms("below-band").size() == 1);
    }
}

TEST_CASE("a band moved while running is a warm-up, not an alarm") {
    Run run(one_vessel(VesselKind::smoker, {{93, 100}}));
    run.probe("p", probe_of(Series{{0, 96}, {30, 96}, {60, 107}, {120, 107}}));
    run.until(30);
    run.tell(Hold{0, Band{{104}, {112}}});
    CHECK(run.kitchen().view().vessels[0].phase == "not there yet");  // it stands still
    run.until(40);
    CHECK(run.kitchen().view().vessels[0].phase == "warming up");
    run.until(120);
    CHECK(run.kitchen().view().vessels[0].phase == "in band");
    CHECK(run.alarms("below-band").empty());
    CHECK(run.alarms("above-band").empty());
}

// field case E4
TEST_CASE("E4: short excursions of a fridge are normal, a lasting one is told") {
    Run run(one_vessel(VesselKind::fridge, {{1, 5}}));
    run.probe("p", probe_of([](double minute) -> std::optional<double> {
                  double const in = std::fmod(minute, 90);
                  if (minute > 720) return 9.0;
                  if (in > 60 && in < 63) return 3 + (in - 60) * 2;
                  if (in >= 63 && in < 66) return 9 - (in - 63) * 5.0 / 3;
                  return 3.0;
              }));
    run.until(720);
    CHECK(run.alarms("above-band").empty());
    run.until(760);
    auto const high = run.alarms("above-band");
    REQUIRE(high.size() == 1);
    CHECK(high[0].raised > 728);
    CHECK(high[0].raised < 735);
}

TEST_CASE("E4: an on-delay of the kitchen file counts from the first reading outside, however far that is") {
    for (double const outside : {25.2, 33.0}) {
        INFO(outside);
        auto settings = one_vessel(VesselKind::room, {{15, 25}});
        settings.vessels[0].on_delay = Duration{12};
        Run run(settings);
        run.probe("p", [&](double s, Instant at) -> std::optional<Reading> {
            return Reading::good(at, s < 300 ? 20.0 : outside);
        });
        run.until(6);
        auto const high = run.alarms("above-band");
        REQUIRE(high.size() == 1);
        CHECK(high[0].raised * 60 > 300 + 11 - 0.01);
        CHECK(high[0].raised * 60 < 300 + 12.01);
    }
}

TEST_CASE("an excursion is told from its first reading beyond the band, whatever its on-delay") {
    struct Row {
        VesselKind kind;
        std::optional<double> on_delay_s;
        double low, high, outside;
    };
    for (auto const& row :
         {Row{VesselKind::fridge, {}, 1, 5, 9}, Row{VesselKind::fridge, 1200, 1, 5, 9},
          Row{VesselKind::pot, {}, 60, 70, 75}, Row{VesselKind::oven, 300, 180, 200, 230}}) {
        INFO(row.high << ' ' << row.on_delay_s.value_or(0));
        auto settings = one_vessel(row.kind, {{row.low, row.high}});
        if (row.on_delay_s) settings.vessels[0].on_delay = Duration{*row.on_delay_s};
        Run run(settings);
        double const inside = 0.5 * (row.low + row.high);
        run.probe("p", probe_of([=](double minute) -> std::optional<double> {
                      return minute < 60 || minute > 100 ? inside : row.outside;
                  }));
        run.until(180);
        std::vector<Alarm> alarms;
        for (auto const& effect : run.effects())
            if (auto const* change = std::get_if<AlarmChanged>(&effect);
                change && change->transition == Transition::cleared &&
                change->alarm.type->name == "above-band")
                alarms.push_back(change->alarm);
        REQUIRE(alarms.size() == 1);
        CHECK(std::abs(run.minute(alarms[0].since) - 60) < 0.5);
        for (auto const& spell : run.alarms("above-band"))
            CHECK(spell.raised > 60 + (row.on_delay_s.value_or(20) - 2) / 60);
    }
}

// field case E13
TEST_CASE("E13: a source that falls silent is an alarm of its own") {
    Run run(one_vessel(VesselKind::pot, {{80, 90}}));
    run.probe("p", probe_of(Series{{0, 85}, {10, 85}}));
    run.until(25);
    auto const silent = run.alarms("probe-silent");
    REQUIRE(silent.size() == 1);
    CHECK(silent[0].raised < 11);
    CHECK_THAT(silent[0].text, INGLE_CONTAINS("p"));
    CHECK(run.raised().size() == 1);
}

// field case E17
TEST_CASE("E17: a fault during an alarm is no recovery and no second alarm") {
    Run run(one_vessel(VesselKind::fridge, {{1, 5}}));
    run.probe("p", [](double s, Instant at) -> std::optional<Reading> {
        if (s < 600) return Reading::good(at, 3.0);
        if (s < 3600) return Reading::good(at, 7.5);
        if (s < 3900) return Reading::faulty(at, FaultKind::open, "open: the wire is broken");
        return Reading::good(at, 7.4);
    });
    run.until(70);
    auto const high = run.alarms("above-band");
    REQUIRE(high.size() == 1);
    CHECK_FALSE(high[0].cleared);
}

// field cases A1, A3
TEST_CASE("A1, A3: a broken or shorted wire is told once, within a minute, and a single fault not at all") {
    struct Row {
        FaultKind kind;
        char const* alarm;
    };
    for (auto const row : {Row{FaultKind::open, "probe-open"}, Row{FaultKind::short_to_supply, "probe-short"},
                           Row{FaultKind::short_to_ground, "probe-short"},
                           Row{FaultKind::out_of_range, "probe-implausible"}}) {
        Run run(one_vessel(VesselKind::pot, {{70, 90}}));
        run.probe(
            "p",
            [row](double s, Instant at) -> std::optional<Reading> {
                bool const single = s > 60 && s < 300 && std::fmod(s, 60) == 0;
                if (single || (s >= 600 && s < 1200)) return Reading::faulty(at, row.kind, "the reason");
                return Reading::good(at, 74.25);
            },
            5);
        run.until(30);
        auto const told = run.alarms(row.alarm);
        REQUIRE(told.size() == 1);
        CHECK(told[0].raised > 10);
        CHECK(told[0].raised <= 11);
        REQUIRE(told[0].cleared);
        CHECK(*told[0].cleared < 21);
        CHECK(run.raised().size() == 1);  // one cause, one alarm
        CHECK(run.events("probe-back").size() == 1);
    }
}

// field case A21
TEST_CASE("A21: a broken wire that reads a perfectly legal 150 is the probe's fault, not a hot fridge") {
    auto settings = one_vessel(VesselKind::fridge, {{1, 5}});
    settings.probes[0].plausible = std::pair{Temperature{-10}, Temperature{40}};
    Run run(settings);
    run.probe("p", probe_of([](double m) { return std::optional(m < 60 ? 4.0 : 150.0); }));
    run.until(90);
    REQUIRE(run.alarms("probe-implausible").size() == 1);
    CHECK(run.raised().size() == 1);
    auto const view = run.kitchen().view();
    CHECK_FALSE(view.probes[0].fresh);
    CHECK_THAT(view.probes[0].celsius.value(), WithinAbs(4.0, 0.5));
    CHECK_THAT(view.probes[0].fault.value().reason, INGLE_CONTAINS("not plausible"));
}

TEST_CASE("far outside the band is told as such") {
    Run run(one_vessel(VesselKind::pot, {{80, 86}}));
    run.probe("p", probe_of(Series{{0, 83}, {10, 83}, {14, 87}, {30, 87}, {40, 93}, {60, 93}}));
    run.until(28);
    REQUIRE(run.alarms("above-band").size() == 1);
    CHECK(run.alarms("above-band")[0].worst == Priority::medium);
    run.until(60);
    REQUIRE(run.alarms("above-band").size() == 1);
    CHECK(run.alarms("above-band")[0].worst == Priority::high);
}

TEST_CASE("a drift is told before it leaves the band, with the way to turn") {
    Run run(one_vessel(VesselKind::pot, {{82, 88}}));
    run.probe("p", probe_of(Series{{0, 84}, {20, 84}, {40, 88}, {60, 92}}));
    run.until(38);
    auto const early = run.alarms("leaving-band");
    REQUIRE(early.size() == 1);
    CHECK(early[0].raised < 37);
    CHECK(early[0].raised > 20);
    CHECK_THAT(early[0].text, INGLE_CONTAINS("down"));
    run.until(60);
    CHECK(run.alarms("leaving-band").size() == 1);
    CHECK(run.alarms("above-band").size() == 1);
}

TEST_CASE("a steady pot says nothing for two days") {
    Run run(one_vessel(VesselKind::pot, {{82, 88}}));
    run.probe("p", probe_of([](double minute) { return std::optional(85 + 0.6 * std::sin(minute / 37)); }, 7,
                            0.15));
    run.until(2880);
    CHECK(run.raised().empty());
}

TEST_CASE("a fridge that was in its band when it was first read need not come there: leaving it is told") {
    for (double const minutes : {1.0, 3.0, 5.0})
        for (int const every : {1, 10, 60}) {
            CAPTURE(minutes, every);
            auto settings = one_vessel(VesselKind::fridge, {{1, 5}});
            settings.probes[0].every = Duration{1.0 * every};
            Run run(settings);
            run.probe(
                "p",
                [minutes](double s, Instant at) -> std::optional<Reading> {
                    return Reading::good(at, s < 60 * minutes ? 4.05 : 12);
                },
                every);
            run.until(60);
            auto const high = run.alarms("above-band");
            REQUIRE(high.size() == 1);
            CHECK(high[0].raised < minutes + 30);
            CHECK(run.alarms("slow-to-reach").empty());
        }
    Run warm(one_vessel(VesselKind::fridge, {{1, 5}}));  // and one that was never in it has to come there
    warm.probe("p", probe_of(Series{{0, 12}, {60, 12}}));
    warm.until(60);
    CHECK(warm.alarms("above-band").empty());
}
