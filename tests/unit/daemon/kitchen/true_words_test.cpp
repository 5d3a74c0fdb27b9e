// What is told of a vessel is true of it now: whose occurrence an alarm is, which cause is only possible, and
// whether a pot whose stage is over was meant to cool.
#include <cmath>

#include "tests/support/catch.hpp"
#include "tests/support/kitchen_run.hpp"

using namespace ingle;
using namespace ingle::test;
using std::chrono::minutes;

namespace {

VesselView vessel(Run& run, std::size_t number = 0) {
    return run.kitchen().view().vessels[number];
}

std::vector<std::string> told(Run const& run, std::string_view alarm, std::string_view kind = "raised") {
    std::vector<std::string> texts;
    for (auto const& effect : run.effects())
        if (auto const* tell = std::get_if<Tell>(&effect); tell && tell->kind == kind)
            for (auto const& one : tell->alarms)
                if (one.type->name == alarm) texts.push_back(one.text);
    return texts;
}

Settings with_phone(Settings settings) {
    settings.channels.push_back({.name = "phone", .kind = "webhook"});
    return settings;
}

Settings poached(std::vector<StageSettings> stages) {
    auto settings = with_phone(one_vessel(VesselKind::pot, {}));
    add_vessel(settings, "oven", VesselKind::oven, add_probe(settings, "air"));
    add_dish(settings, "goose-roll", 0, -1).plan = "plan";
    add_dish(settings, "beet", 0, -1).plan = "side";
    for (auto const& name : {"plan", "side"}) {
        PlanSettings plan;
        plan.name = name;
        plan.stages = stages;
        plan.stage_vessels.resize(stages.size());
        settings.plans.push_back(plan);
    }
    return settings;
}

StageSettings timed(std::string name, double minutes_of_it, Band band, int vessel = -1) {
    StageSettings stage;
    stage.name = std::move(name);
    stage.until.time = Duration{minutes_of_it * 60};
    stage.band = band;
    stage.vessel = vessel;
    return stage;
}

}  // namespace

TEST_CASE("leaving at the top, and then at the bottom, are two occurrences: the second is told too") {
    bool const seen = GENERATE(true, false);
    Run run(with_phone(one_vessel(VesselKind::pot, {{80, 90}})));
    run.probe("p", probe_of(Series{{0, 85}, {20, 85}, {22.5, 89}, {28, 80.5}, {29, 80.5}}));
    run.until(22.5);
    REQUIRE(told(run, "leaving-band").size() == 1);
    CHECK_THAT(told(run, "leaving-band")[0], INGLE_CONTAINS("at the top"));
    if (seen) run.tell(Acknowledge{{}, "maria"});
    run.until(27.5);
    REQUIRE(told(run, "leaving-band").size() == 2);
    CHECK_THAT(told(run, "leaving-band")[1], INGLE_CONTAINS("at the bottom"));
    auto const alarms = run.kitchen().view().alarms;
    auto const it = std::ranges::find(alarms, std::string_view("leaving-band"),
                                      [](Alarm const& alarm) { return alarm.type->name; });
    REQUIRE(it != alarms.end());
    CHECK(run.minute(it->since) > 23);  // of leaving at the bottom; heat-lost covers it by now
}

TEST_CASE("a pot has no door, and a level that stands still does not come back") {
    Run run(with_phone(one_vessel(VesselKind::pot, {{80, 90}})));
    run.probe("p", probe_of(Series{{0, 82}, {40, 82}, {40.2, 77}, {60, 77}}));
    run.until(41.5);
    auto const view = run.kitchen().view();
    CHECK(view.vessels[0].phase == "below band");
    CHECK_FALSE(view.vessels[0].forecast);
    for (auto const& alarm : view.alarms) CHECK(alarm.muted_by != "door-opened");
    for (auto const& effect : run.effects())
        if (auto const* change = std::get_if<AlarmChanged>(&effect))
            CHECK(change->alarm.muted_by != "door-opened");
    CHECK(run.events("door-opened").empty());
}

TEST_CASE("without a switch an open door is a question, and what is back in its band is in band") {
    Run run(one_vessel(VesselKind::smoker, {{95, 115}}));
    run.probe("p",
              probe_of(Series{{0, 105}, {30, 105}, {30.3, 75}, {31, 65}, {33, 97}, {34, 100}, {45, 104}}));
    run.until(30.6);
    CHECK(vessel(run).phase == "door open?");
    run.until(32);
    CHECK(vessel(run).phase == "coming back");
    run.until(35);
    CHECK(vessel(run).phase == "in band");
    // The way back says nothing of what comes after it.
    for (auto const& [minute, forecast] : run.forecasts("leaving-band"))
        CHECK((minute < 30.2 || minute > 44));
}

TEST_CASE("a pot that comes back is not told as if its heat were off") {
    Run run(with_phone(one_vessel(VesselKind::pot, {{80, 90}})));
    run.probe("p", probe_of(Series{{0, 85}, {30, 85}, {42, 72}, {60, 83}, {90, 85}}));
    run.until(42);
    REQUIRE_FALSE(run.alarms("heat-lost").empty());
    CHECK_THAT(run.alarms("heat-lost")[0].text, INGLE_CONTAINS("as if the heat were off"));
    for (double minute = 46; minute < 52; minute += 1) {
        run.until(minute);
        for (auto const& alarm : run.kitchen().view().alarms) {
            if (alarm.type->name != "heat-lost" || !alarm.active) continue;
            CHECK_THAT(alarm.text, INGLE_CONTAINS("coming back"));
            CHECK(alarm.text.find("as if") == std::string::npos);
        }
    }
}

TEST_CASE("what is back in its band by a jump is not told to stay away from it") {
    Run run(with_phone(one_vessel(VesselKind::oven, {{150, 170}})));
    run.probe("p", probe_of(Series{{0, 160}, {40, 160}, {40.2, 140}, {55, 140}, {55.1, 160}, {60, 160}}));
    run.until(55);
    REQUIRE_FALSE(run.alarms("heat-lost").empty());
    for (double minute = 55.3; minute < 58; minute += 0.1) {
        run.until(minute);
        for (auto const& alarm : run.kitchen().view().alarms) {
            if (alarm.type->name != "heat-lost" || !alarm.active) continue;
            INFO(minute << ": " << alarm.text);
            CHECK(alarm.text.find("lower than before") == std::string::npos);
        }
    }
}

TEST_CASE("the burner is turned off when the stage is over: no heat-lost, moved or not") {
    bool const moves_on = GENERATE(true, false);
    std::vector stages{timed("poach", 20, Band{{80}, {90}})};
    if (moves_on) stages.push_back(timed("bake", 20, Band{{180}, {200}}, 1));
    Run run(poached(stages));
    run.probe("p", probe_of(Series{{0, 85}, {25, 85}, {60, 45}, {90, 30}}));
    run.probe("air", probe_of(Series{{0, 25}, {90, 25}}, 2));
    run.tell(Begin{0});
    run.until(90);
    CHECK(run.alarms(moves_on ? "stage-over" : "dish-ready").size() == 1);
    CHECK(run.alarms("heat-lost").empty());
}

TEST_CASE("two dishes that ask for different bands in one pot are each timed by their own") {
    auto settings = poached({timed("poach", 30, Band{{80}, {90}})});
    settings.plans[1].stages = {timed("warm", 30, Band{{60}, {70}})};
    Run run(settings);
    run.probe("p", probe_of(Series{{0, 85}, {90, 85}}));
    run.tell(Begin{0});
    run.until(5);
    run.tell(Begin{1});
    run.until(31);
    CHECK(run.kitchen().view().dishes[0].stage == "done");
    CHECK(run.kitchen().view().dishes[1].clock.state == "waits for its band");
}

TEST_CASE("an oven that swings at the rim of its band bakes from the moment it is inside") {
    auto stage = timed("bake", 45, Band{{180}, {200}}, 1);
    Run run(poached({stage}));
    run.probe("p", probe_of(Series{{0, 20}, {90, 20}}));
    run.probe("air", probe_of([](double m) {
                  return std::optional(m < 10 ? 20 + 17 * m : 190 + 8 * std::sin(2 * 3.14159 * m / 6));
              }));
    run.tell(Begin{0});
    run.until(70);
    REQUIRE(run.events("stage-ended").size() == 1);
    CHECK_THAT(run.events("stage-ended")[0].first, WithinAbs(55, 2));
}

TEST_CASE("a forecast is gone as soon as the probe shows that the pot has turned") {
    Run run(one_vessel(VesselKind::pot, {{80, 90}}));
    run.probe("p", probe_of(Series{{0, 85}, {20, 85}, {22.5, 88.8}, {24, 86.6}}, 3, 0.05, 0.1));
    run.until(22.4);
    REQUIRE(vessel(run).forecast);
    CHECK(vessel(run).forecast->direction == 1);
    for (int second = 0; second < 60; ++second) {
        run.until(22.5 + second / 60.0);
        auto const view = run.kitchen().view();
        double const slope = view.probes[0].slope_k_per_min.value_or(0);
        if (view.vessels[0].forecast && view.vessels[0].forecast->direction == 1) CHECK(slope > -0.8);
    }
}

TEST_CASE("a program that stood still blames no probe, and says that nothing was watched") {
    auto settings = with_phone(one_vessel(VesselKind::pot, {{80, 90}}));
    Instant const start{Span(5'000'000)};
    Kitchen kitchen(settings, start);
    Effects effects;
    auto const at = [&](double s) { return start + from_seconds(s); };
    for (int s = 0; s < 600; ++s) kitchen.take(0, Reading::good(at(s), 85 + 0.1 * (s % 2)), effects);
    effects.clear();
    kitchen.stood_still(at(695), effects);
    auto const raised = [&] {
        return std::ranges::count_if(effects, [](Effect const& effect) {
            auto const* change = std::get_if<AlarmChanged>(&effect);
            return change && change->transition == Transition::raised;
        });
    };
    CHECK(raised() == 0);
    auto const* gap = std::get_if<Event>(&effects.back());
    REQUIRE(gap);
    CHECK(gap->name == "gap");
    CHECK_THAT(gap->text, INGLE_CONTAINS("nothing was watched for 1 min 36 s"));
    CHECK_FALSE(kitchen.view().probes[0].fresh);
    SECTION("the probe goes on") {
        for (int s = 695; s < 800; ++s) kitchen.take(0, Reading::good(at(s), 85 + 0.1 * (s % 2)), effects);
        CHECK(raised() == 0);
        CHECK(kitchen.view().vessels[0].phase == "in band");
    }
    SECTION("it does not: that counts from when it was asked again") {
        kitchen.advance(at(720), effects);
        CHECK(raised() == 0);
        kitchen.advance(at(730), effects);
        CHECK(raised() == 1);
    }
}

TEST_CASE("an oven that is turned down to hold has lost no heat, and no door was opened on the way") {
    for (double const tau_min : {0.2, 5.0, 20.0}) {
        CAPTURE(tau_min);
        Run run(one_vessel(VesselKind::oven, {{140, 160}}));
        auto const cools = [=](double m) { return m < 60 ? 150 : 68 + 82 * std::exp((60 - m) / tau_min); };
        run.probe("p", probe_of(cools, 1, 0.3));
        run.until(60);
        run.tell(Hold{0, Band{{62}, {75}}});
        run.until(180);
        CHECK(run.alarms("heat-lost").empty());
        if (tau_min > 1) CHECK(run.events("door-opened").empty());
        CHECK(run.kitchen().view().alarms.empty());
    }
}

TEST_CASE("a fridge that comes down to its band has a door all the same") {
    Run run(one_vessel(VesselKind::fridge, {{1, 5}}));
    run.probe("p", probe_of(Series{{0, 12}, {20, 10}, {20.2, 15}, {21, 16}, {24, 9.7}, {40, 8}}));
    run.until(40);
    CHECK(run.events("door-opened").size() == 1);
}

TEST_CASE("between leaving its band and the word that it is outside, it is said to have left it") {
    Run run(with_phone(one_vessel(VesselKind::pot, {{80, 90}})));
    run.probe("p", probe_of([](double m) {
                  return std::optional(m < 20 ? 85.0 : std::min(93.0, 85 + 0.9 * (m - 20)));
              }));
    bool seen = false;
    for (double m = 20; m < 28; m += 0.1) {
        run.until(m);
        auto const outside = vessel(run).phase == "above band";
        for (auto const& alarm : run.kitchen().view().alarms)
            if (alarm.active && outside && alarm.type->name == "leaving-band" && alarm.muted_by.empty()) {
                CHECK_THAT(alarm.text,
                           INGLE_CONTAINS("has left its band (80.0 degC to 90.0 degC) at the top."));
                seen = true;
            }
    }
    CHECK(seen);
}

TEST_CASE("what a dish is inside is said by what counts as its core, not by a tip that hangs in the air") {
    bool const in_air = GENERATE(true, false);
    CAPTURE(in_air);
    auto settings = one_vessel(VesselKind::smoker, {{100, 110}});
    int const core = add_probe(settings, "core");
    add_dish(settings, "goose", 0, core);
    Run run(settings);
    auto const air = [](double m) { return m < 60 ? 105.0 : std::min(135.0, 105 + 2 * (m - 60)); };
    run.probe("p", probe_of([=](double m) { return std::optional(air(m)); }, 1, 0.1));
    run.probe("core", probe_of(
                          [=](double m) {
                              bool const out = in_air && m > 30;
                              return std::optional(out ? air(m) : 20 + 0.4 * m);
                          },
                          2, 0.05));
    run.until(1);
    run.tell(Begin{0});
    run.until(90);
    auto const high = run.alarms("above-band", "v");
    REQUIRE_FALSE(high.empty());
    CHECK(run.kitchen().view().dishes[0].core_c.has_value() == !in_air);
    CHECK((high[0].text.find("Inside, goose is at") == std::string::npos) == in_air);
}
