// What was remembered by this version is read back; by another one it is refused, told, and unknown.
#include <algorithm>
#include <set>
#include <string>
#include <string_view>

#include "tests/support/catch.hpp"
#include "tests/support/kitchen_run.hpp"

using namespace ingle;
using namespace ingle::test;

namespace {

// A pot above its band with a roast in it whose core has reached its target.
Settings kitchen_with_a_roast() {
    auto settings = one_vessel(VesselKind::pot, {{60, 70}});
    add_probe(settings, "core");
    add_dish(settings, "roll", 0, 1, "ground-poultry");
    return settings;
}
Run& cooked(Run& run) {
    run.probe("p", probe_of(Series{{0, 65}, {20, 65}, {22, 80}, {60, 80}}, 3));
    run.probe("core", probe_of(Series{{0, 20}, {30, 78}, {60, 78}}, 4));
    run.tell(Begin{0});
    run.until(45);
    return run;
}

Memory with(Memory const& memory, std::string_view key_end, std::optional<std::string> version) {
    Memory changed;
    for (auto const& [key, text] : memory.all())
        if (!key.ends_with(key_end))
            changed.put(key, text);
        else if (version)
            changed.put(key, *version);
    return changed;
}

struct Restored {
    Kitchen kitchen;
    Effects effects;
    Restored(Run& run, Memory const& memory) : kitchen(run.settings(), run.now()) {
        kitchen.recall(memory, run.now(), effects);
    }
    std::string refused() const {
        for (auto const& effect : effects)
            if (auto const* event = std::get_if<Event>(&effect); event && event->name == "not-restored")
                return event->text;
        return "";
    }
    bool active(std::string_view alarm) const {
        auto const& all = kitchen.view().alarms;
        return std::ranges::any_of(all, [&](Alarm const& a) { return a.active && a.type->name == alarm; });
    }
    std::vector<Verdict> verdicts() const { return kitchen.view().dishes[0].verdicts; }
};

}  // namespace

TEST_CASE("every part that remembers anything says in which version") {
    Run run(kitchen_with_a_roast());
    auto const memory = cooked(run).kitchen().remember();
    for (auto const* part : {"kitchen.", "timers.", "alarm.", "probe.p.", "vessel.v.", "vessel.v.watch.heat.",
                             "vessel.v.watch.boiling.", "dish.roll.cook.", "dish.roll.food."}) {
        INFO(part);
        CHECK(memory.integer(part + std::string("version")) == 1);
    }
}

TEST_CASE("texts of this version, and texts from before there were versions, are read") {
    Run run(kitchen_with_a_roast());
    auto const memory = cooked(run).kitchen().remember();
    Restored const as_written(run, memory), old(run, with(memory, "version", std::nullopt));
    for (auto const* restored : {&as_written, &old}) {
        CHECK(restored->refused().empty());
        CHECK(restored->active("above-band"));
        CHECK(restored->kitchen.view().dishes[0].begun);
        CHECK(restored->verdicts().size() == run.kitchen().view().dishes[0].verdicts.size());
    }
    CHECK(with(old.kitchen.remember(), "version", std::nullopt).all() ==
          with(as_written.kitchen.remember(), "version", std::nullopt).all());
}

TEST_CASE("a watch's texts of another version are refused, named, and nothing else with them") {
    Run run(kitchen_with_a_roast());
    auto const memory = cooked(run).kitchen().remember();
    for (auto const* version : {"2", "0", "x", ""}) {
        Restored const restored(run, with(memory, "vessel.v.watch.heat.version", version));
        INFO("version '" << version << "'");
        CHECK_THAT(restored.refused(), INGLE_CONTAINS("the watch heat of v"));
        CHECK_THAT(restored.refused(), !INGLE_CONTAINS("boiling"));
        CHECK(restored.active("above-band"));
        auto const again = restored.kitchen.remember();
        CHECK_FALSE(again.text("vessel.v.watch.heat.past"));
        CHECK(again.text("vessel.v.watch.boiling.past") == memory.text("vessel.v.watch.boiling.past"));
    }
}

TEST_CASE("a food record of another version leaves nothing reached and nothing safe") {
    Run run(kitchen_with_a_roast());
    auto const memory = cooked(run).kitchen().remember();
    auto const before = run.kitchen().view().dishes[0].verdicts;
    Restored restored(run, with(memory, "dish.roll.food.version", "2"));
    CHECK_THAT(restored.refused(), INGLE_CONTAINS("the food record of roll"));
    REQUIRE(restored.kitchen.view().dishes[0].begun);
    restored.kitchen.advance(run.now() + std::chrono::seconds(1), restored.effects);
    REQUIRE_FALSE(before.empty());
    CHECK(std::ranges::any_of(before, [](Verdict const& v) { return v.answer == "met"; }));
    CHECK(std::ranges::none_of(restored.verdicts(), [](Verdict const& v) { return v.answer == "met"; }));
}

TEST_CASE("alarms, timers, cook and band of another version: refused, told, and the watching begins anew") {
    Run run(kitchen_with_a_roast());
    cooked(run).tell(Hold{0, Band{{50}, {60}}});
    auto const memory = run.kitchen().remember();
    Restored const alarms(run, with(memory, "alarm.version", "7"));
    CHECK_THAT(alarms.refused(), INGLE_CONTAINS("the alarms"));
    CHECK(alarms.kitchen.view().alarms.empty());
    Restored const cook(run, with(memory, "dish.roll.cook.version", "7"));
    CHECK_THAT(cook.refused(), INGLE_CONTAINS("the cook of roll"));
    CHECK_FALSE(cook.kitchen.view().dishes[0].begun);
    Restored const band(run, with(memory, "vessel.v.version", "7"));
    CHECK_THAT(band.refused(), INGLE_CONTAINS("the band of v"));
    CHECK(band.kitchen.view().vessels[0].band->low.celsius == 60);  // the kitchen file's
    CHECK(band.active("above-band"));                               // an alarm is not lost with it
}

TEST_CASE("a stored value that is refused today is told, not used, and taken for none") {
    Run run(kitchen_with_a_roast());
    cooked(run).tell(PressureNow{{95'000}});
    run.tell(Calibrate{0, {{{80}, {81}}}});
    run.tell(Hold{0, Band{{50}, {60}}});
    run.until(50);
    auto const memory = run.kitchen().remember();
    Restored const taken(run, memory);
    CHECK(taken.refused().empty());
    CHECK(taken.kitchen.view().probes[0].calibration.size() == 1);

    Restored const pressure(run, with(memory, "kitchen.pressure", "100"));
    CHECK_THAT(pressure.refused(), INGLE_CONTAINS("the measured air pressure is not"));
    CHECK_THAT(pressure.refused(), INGLE_CONTAINS("450 hPa"));
    CHECK_FALSE(pressure.kitchen.remember().text("kitchen.pressure"));

    Restored const calibration(run, with(memory, "probe.p.calibration.0.is", "120"));
    CHECK_THAT(calibration.refused(), INGLE_CONTAINS("the calibration of p moves the reading by 40"));
    CHECK_THAT(calibration.refused(), INGLE_CONTAINS("measure again"));
    CHECK(calibration.kitchen.view().probes[0].calibration.empty());
    CHECK_FALSE(calibration.kitchen.view().probes[0].celsius);  // read by that calibration

    Restored const torn(run, with(memory, "probe.p.calibration.0.is", std::nullopt));
    CHECK_THAT(torn.refused(), INGLE_CONTAINS("the calibration of p cannot be read"));

    Restored const band(run, with(memory, "vessel.v.held.high", "40"));
    CHECK_THAT(band.refused(), INGLE_CONTAINS("the band that v is held at cannot be read"));
    CHECK_THAT(band.kitchen.view().vessels[0].band->high.celsius, WithinAbs(70, 1e-9));
}

TEST_CASE("a probe that is read from another place has read nothing yet, and orders nothing") {
    Run run(kitchen_with_a_roast());
    cooked(run);
    auto const find = [](Kitchen const& kitchen, std::string_view name) {
        for (auto const& alarm : kitchen.view().alarms)
            if (alarm.type->name == name) return alarm;
        return Alarm{};
    };
    REQUIRE_THAT(find(run.kitchen(), "boiling").text, INGLE_CONTAINS("Turn the heat"));
    auto settings = run.settings();
    settings.probes[0].driver = "modbus";
    Kitchen next(settings, run.now());
    Effects effects;
    next.recall(run.kitchen().remember(), run.now(), effects);
    next.advance(run.now() + std::chrono::seconds(2), effects);
    CHECK_FALSE(next.view().probes[0].celsius);
    CHECK(next.view().probes[1].celsius);
    auto const standing = find(next, "boiling");
    CHECK(standing.active);
    CHECK_THAT(standing.text, INGLE_CONTAINS("No longer being checked"));
    CHECK(standing.text.find("Turn the heat") == std::string::npos);
    bool said = false;
    for (auto const& effect : effects)
        if (auto const* event = std::get_if<Event>(&effect))
            said = said || event->text.find("p is read from another place") != std::string::npos;
    CHECK(said);
    auto at = run.now() + std::chrono::seconds(2);
    for (int s = 0; s < 60; ++s) {
        at += std::chrono::seconds(1);
        next.take(0, Reading::good(at, 20), effects);
        CHECK_FALSE(find(next, "boiling").action == Action::lower_heat);
    }
}

TEST_CASE(
    "a dish that is gone from the kitchen file while the program is off: its cook is kept, and that is "
    "told") {
    Run run(kitchen_with_a_roast());
    cooked(run);
    auto const number = run.kitchen().view().dishes[0].cook;
    auto settings = run.settings();
    settings.dishes.clear();
    Kitchen without(settings, run.now());
    Effects effects;
    without.recall(run.kitchen().remember(), run.now(), effects);
    bool told = false;
    for (auto const& effect : effects)
        if (auto const* event = std::get_if<Event>(&effect); event && event->name == "not-restored")
            told = told || event->text.find("roll cooks, and the kitchen file has no such dish") == 0;
    CHECK(told);
    without.advance(run.now() + std::chrono::minutes(5), effects);
    auto const alarms_of = [](Kitchen const& kitchen) {
        std::vector<std::string> texts;
        for (auto const& alarm : kitchen.view().alarms)
            if (alarm.type->name == "cook-left-behind" && alarm.state == AlarmState::unacknowledged)
                texts.push_back(alarm.text);
        return texts;
    };
    REQUIRE(alarms_of(without).size() == 1);
    CHECK_THAT(alarms_of(without)[0], INGLE_CONTAINS("roll cooks") && INGLE_CONTAINS("not watched"));
    Kitchen again(run.settings(), run.now() + std::chrono::minutes(5));
    again.recall(without.remember(), run.now() + std::chrono::minutes(5), effects);
    auto const dish = again.view().dishes[0];
    CHECK(dish.begun);
    CHECK(dish.cook == number);
    CHECK(dish.began == run.kitchen().view().dishes[0].began);
    CHECK_FALSE(dish.verdicts.empty());
    REQUIRE(run.kitchen().view().vessels[0].band);
    CHECK(again.view().vessels[0].band == run.kitchen().view().vessels[0].band);
    again.advance(run.now() + std::chrono::minutes(35), effects);  // a restart is no all-clear
    CHECK(alarms_of(again).empty());
}

TEST_CASE("what was read before a restart is shown as old as it is, from the first moment on") {
    Run run(kitchen_with_a_roast());
    cooked(run);
    Kitchen next(run.settings(), run.now() + std::chrono::minutes(2));
    Effects effects;
    next.recall(run.kitchen().remember(), run.now(), effects);
    CHECK_FALSE(next.view().probes[0].fresh);
    CHECK(next.view().vessels[0].phase == "no reading");
    REQUIRE(next.view().probes[0].age);
    CHECK(*next.view().probes[0].age >= std::chrono::minutes(2));
}

TEST_CASE("when a core is done is known over a reload, within seconds of its first reading") {
    auto settings = kitchen_with_a_roast();
    Run run(settings);
    run.probe("p", probe_of(Series{{0, 85}, {200, 85}}, 3));
    run.probe("core", probe_of(Series{{0, 20}, {40, 50}, {120, 75}, {200, 80}}, 4));
    run.tell(Begin{0});
    run.until(30);
    auto const before = run.kitchen().view().dishes[0].forecast;
    REQUIRE((before && before->eta_s));
    run.restart(std::chrono::seconds(2));
    run.until(30.25);
    auto const after = run.kitchen().view().dishes[0].forecast;
    REQUIRE((after && after->eta_s));
    CHECK(*after->eta_s == Approx(*before->eta_s).epsilon(0.1));
}

TEST_CASE("a high alarm does not vanish with its vessel's name in the kitchen file") {
    auto settings = one_vessel(VesselKind::oven, {{150, 170}});
    Run run(settings);
    run.probe("p", probe_of(Series{{0, 160}, {10, 160}, {16, 190}, {60, 190}}));
    run.until(25);
    REQUIRE(run.alarms("above-band").size() == 1);
    settings.vessels[0].name = "cabinet";
    Kitchen next(settings, run.now());
    Effects effects;
    next.recall(run.kitchen().remember(), run.now(), effects);
    next.advance(run.now() + std::chrono::minutes(1), effects);
    std::vector<std::string> texts;
    for (auto const& alarm : next.view().alarms)
        if (alarm.type->name == "alarm-dropped" && alarm.active) texts.push_back(alarm.text);
    REQUIRE(texts.size() == 1);
    CHECK_THAT(texts[0],
               INGLE_CONTAINS("above-band of v was open") && INGLE_CONTAINS("not part of this kitchen"));
}

TEST_CASE("trouble that happened once stands over restarts until somebody has seen it") {
    auto settings = one_vessel(VesselKind::oven, {{150, 170}});
    Run run(settings);
    run.probe("p", probe_of(Series{{0, 160}, {10, 160}, {16, 190}, {60, 190}}));
    run.until(25);
    auto now = run.now();
    settings.vessels[0].name = "cabinet";
    auto memory = run.kitchen().remember();
    bool acknowledged = false;
    for (int life = 0; life < 4; ++life) {
        Kitchen next(settings, now += std::chrono::seconds(5));
        Effects effects;
        next.recall(memory, now, effects);
        if (life == 0) {
            next.command(now, KitchenTrouble{"order-dropped", true, "Not taken up: no such dish."}, effects);
            next.command(now, KitchenTrouble{"logbook-damaged", true, "It was damaged."}, effects);
        }
        next.advance(now += std::chrono::minutes(2), effects);
        std::set<std::string_view> standing;
        for (auto const& alarm : next.view().alarms)
            if (alarm.active) standing.insert(alarm.type->name);
        for (auto const* name : {"alarm-dropped", "order-dropped", "logbook-damaged"}) {
            CAPTURE(life, name);
            CHECK(standing.contains(name) == !acknowledged);
        }
        if (life == 2) {
            next.command(now, Acknowledge{{}, "cook"}, effects);
            next.advance(now += std::chrono::minutes(2), effects);
            acknowledged = true;
        }
        memory = next.remember();
    }
}

TEST_CASE("a cook that the kitchen file leaves behind is told over restarts until its dish is back") {
    Run run(kitchen_with_a_roast());
    cooked(run);
    auto without = run.settings();
    without.dishes.clear();
    auto now = run.now();
    auto memory = run.kitchen().remember();
    for (int life = 0; life < 4; ++life) {
        Kitchen next(life == 3 ? run.settings() : without, now += std::chrono::seconds(5));
        Effects effects;
        next.recall(memory, now, effects);
        next.advance(now += std::chrono::minutes(20), effects);
        CAPTURE(life);
        CHECK(std::ranges::any_of(next.view().alarms, [](Alarm const& alarm) {
                  return alarm.type->name == "cook-left-behind" && alarm.active;
              }) == (life < 3));
        memory = next.remember();
    }
}

TEST_CASE("a vessel whose probe is gone from the kitchen file while a dish cooks in it: that is told") {
    Run run(kitchen_with_a_roast());
    cooked(run);
    auto settings = run.settings();
    auto const medium = std::exchange(settings.vessels[0].medium, -1);
    REQUIRE(medium >= 0);
    Effects effects;
    auto const standing = [](Kitchen const& kitchen) {
        std::vector<std::string> texts;
        for (auto const& alarm : kitchen.view().alarms)
            if (alarm.type->name == "vessel-unwatched" && alarm.active) texts.push_back(alarm.text);
        return texts;
    };
    auto const told = [](Effects const& of) {
        return std::ranges::count_if(of, [](Effect const& effect) {
            auto const* event = std::get_if<Event>(&effect);
            return event &&
                   event->text.find("has no probe in the kitchen file any more") != std::string::npos;
        });
    };
    Kitchen without(settings, run.now());
    without.recall(run.kitchen().remember(), run.now(), effects);
    without.advance(run.now() + std::chrono::minutes(1), effects);
    CHECK(told(effects) == 1);
    REQUIRE(standing(without).size() == 1);
    CHECK_THAT(standing(without)[0], INGLE_CONTAINS("cooks roll") && INGLE_CONTAINS("is not watched"));

    // A restart is no all-clear, and no second word of it.
    effects.clear();
    Kitchen again(settings, run.now() + std::chrono::minutes(1));
    again.recall(without.remember(), run.now() + std::chrono::minutes(1), effects);
    again.advance(run.now() + std::chrono::minutes(2), effects);
    CHECK(told(effects) == 0);
    CHECK(standing(again).size() == 1);

    SECTION("over as soon as the probe is back") {
        Kitchen back(run.settings(), run.now() + std::chrono::minutes(2));
        back.recall(again.remember(), run.now() + std::chrono::minutes(2), effects);
        back.advance(run.now() + std::chrono::minutes(3), effects);
        CHECK(standing(back).empty());
    }
    SECTION("over with the cook") {
        again.command(run.now() + std::chrono::minutes(2), End{0}, effects);
        again.advance(run.now() + std::chrono::minutes(3), effects);
        CHECK(standing(again).empty());
    }
}
