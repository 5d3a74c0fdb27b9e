// A start with a kitchen file that lacks a dish, a vessel or a probe, and then one that has it again: nothing
// of it is lost in between, over a reboot either.
#include <algorithm>
#include <string>

#include "tests/support/catch.hpp"
#include "tests/support/kitchen_run.hpp"

using namespace ingle;
using namespace ingle::test;

namespace {

constexpr auto absence = std::chrono::minutes(10);

Settings hall() {
    auto settings = one_vessel(VesselKind::pot, {});
    add_probe(settings, "core");
    add_dish(settings, "roll", 0, 1, "ground-poultry");
    return settings;
}

// As a start of the program reads what an earlier boot wrote, whose clock was `ahead` of this one's.
Memory read_in_another_boot(Memory memory, Span ahead) {
    memory.shift_instants(-ahead);
    return memory;
}

struct Started {
    Kitchen kitchen;
    Effects effects;
    Started(Settings const& settings, Memory const& memory, Instant now) : kitchen(settings, now) {
        kitchen.recall(memory, now, effects);
        kitchen.advance(now + std::chrono::seconds(2), effects);
    }
    bool said(std::string const& words) const {
        return std::ranges::any_of(effects, [&](Effect const& effect) {
            auto const* event = std::get_if<Event>(&effect);
            return event && event->text.find(words) != std::string::npos;
        });
    }
};

}  // namespace

TEST_CASE("a cook whose dish is missing from the file over a reboot goes on from when it began") {
    Run run(hall());
    run.probe("p", probe_of(Series{{0, 65}, {100, 65}}, 3));
    run.probe("core", probe_of(Series{{0, 20}, {100, 60}}, 4));
    run.tell(Begin{0});
    run.until(60);
    auto const began = run.kitchen().view().dishes[0].began;
    REQUIRE(began);
    auto without = hall();
    without.dishes.clear();
    auto const ahead = std::chrono::minutes(50);
    auto const now = run.now() + absence - ahead;  // of the second boot
    Started second(without, read_in_another_boot(run.kitchen().remember(), ahead), now);
    CHECK(second.said("roll cooks, and the kitchen file has no such dish any more"));
    Started third(hall(), second.kitchen.remember(), now + absence);
    auto const dish = third.kitchen.view().dishes[0];
    REQUIRE(dish.began);
    CHECK(*dish.began == *began - ahead);
}

TEST_CASE("what a person asked of a vessel and of a probe holds when they are in the file again") {
    Run run(hall());
    run.probe("p", probe_of(Series{{0, 65}, {100, 65}}, 3));
    run.tell(Hold{0, Band{{60}, {70}}, std::chrono::hours(2)});
    run.tell(Calibrate{0, {{{0.4}, {0}}}});
    run.until(2);
    auto other = hall();
    other.dishes.clear();
    other.vessels[0].name = "kettle";
    other.probes[0].name = "q";
    auto const now = run.now() + absence;
    Started second(other, run.kitchen().remember(), now);
    CHECK(second.said("The kitchen file has no v any more"));
    CHECK(second.said("no probe p any more. Its calibration is kept"));
    CHECK_FALSE(second.kitchen.view().vessels[0].band);
    Started third(hall(), second.kitchen.remember(), now + absence);
    REQUIRE(third.kitchen.view().vessels[0].band);
    CHECK(third.kitchen.view().vessels[0].band->low.celsius == 60);
    CHECK(third.kitchen.view().vessels[0].band->high.celsius == 70);
    // Its time did not run while nobody saw it.
    auto const timers = third.kitchen.view().timers;
    REQUIRE(timers.size() == 1);
    auto const held = std::chrono::hours(2) - (timers[0].ends - third.kitchen.view().at);
    CHECK((held > Span(0) && held <= absence + std::chrono::minutes(2)));
    CHECK(second.kitchen.view().timers.empty());
    CHECK(third.kitchen.remember().integer("probe.p.calibration.points") == 1);
    CHECK_FALSE(third.said("any more"));
    // What is there again is kept once, and a name that nobody asked anything of is forgotten.
    auto const remembered = third.kitchen.remember();
    CHECK_FALSE(remembered.first_with("vessel.kettle.")->first.starts_with("vessel.kettle."));
}

TEST_CASE("a damaged logbook is told until somebody has seen it, over a restart too") {
    auto const standing = [](Kitchen const& kitchen) {
        return std::ranges::count_if(kitchen.view().alarms, [](Alarm const& alarm) {
            return alarm.type->name == "logbook-damaged" && alarm.active && alarm.priority == Priority::high;
        });
    };
    Run run(hall());
    run.probe("p", probe_of(Series{{0, 65}, {100, 65}}, 3));
    run.tell(KitchenTrouble{"logbook-damaged", true, "What was cooking is not known.", "first"});
    run.until(2);
    CHECK(standing(run.kitchen()) == 1);
    run.restart();
    run.until(60);
    REQUIRE(standing(run.kitchen()) == 1);
    CHECK_FALSE(run.alarms("logbook-damaged")[0].cleared);
    run.tell(Acknowledge{{}, "cook"});
    run.until(62);
    CHECK(standing(run.kitchen()) == 0);
    run.tell(KitchenTrouble{"logbook-damaged", true, "Again.", "second"});
    run.until(63);
    CHECK(standing(run.kitchen()) == 1);
}

TEST_CASE("a file that gives two dishes that cook one core probe is told as long as both cook") {
    auto settings = hall();
    add_probe(settings, "other-core");
    add_dish(settings, "ham", 0, 2, "pork");
    Run run(settings);
    run.probe("p", probe_of(Series{{0, 65}, {100, 65}}, 3));
    run.probe("core", probe_of(Series{{0, 20}, {100, 60}}, 4));
    run.probe("other-core", probe_of(Series{{0, 10}, {100, 50}}, 5));
    run.tell(Begin{0});
    run.tell(Begin{1});
    run.until(10);
    REQUIRE(run.kitchen().view().dishes[1].begun);
    auto const standing = [](Kitchen const& kitchen) {
        std::vector<std::string> texts;
        for (auto const& alarm : kitchen.view().alarms)
            if (alarm.type->name == "core-in-two-dishes" && alarm.active) texts.push_back(alarm.text);
        return texts;
    };
    CHECK(standing(run.kitchen()).empty());
    settings.dishes[1].core = 1;
    Started edited(settings, run.kitchen().remember(), run.now() + absence);
    REQUIRE(standing(edited.kitchen).size() == 1);
    CHECK_THAT(standing(edited.kitchen)[0], INGLE_CONTAINS("core is the core probe of roll and of ham"));
    auto now = run.now() + absence + std::chrono::minutes(1);
    edited.kitchen.command(now, End{1}, edited.effects);
    edited.kitchen.advance(now += std::chrono::minutes(2), edited.effects);
    CHECK(standing(edited.kitchen).empty());
}

TEST_CASE("a vessel that a dish left by the kitchen file has its stage's band no more") {
    auto settings = hall();
    add_vessel(settings, "kettle", VesselKind::pot, add_probe(settings, "q"));
    PlanSettings plan{.name = "poach"};
    StageSettings stage{.name = "poach", .does = Does::cook};
    stage.band = Band{{60}, {70}};
    plan.stages.push_back(stage);
    plan.stage_vessels.emplace_back();
    settings.plans.push_back(plan);
    settings.dishes[0].plan = "poach";
    Run run(settings);
    for (auto const* probe : {"p", "q"}) run.probe(probe, probe_of(Series{{0, 65}, {100, 65}}, 3));
    run.probe("core", probe_of(Series{{0, 20}, {100, 60}}, 4));
    run.tell(Begin{0});
    run.until(5);
    REQUIRE(run.kitchen().view().vessels[0].band);
    settings.dishes[0].vessel = 1;
    Started moved(settings, run.kitchen().remember(), run.now());
    CHECK_FALSE(moved.kitchen.view().vessels[0].band);
    REQUIRE(moved.kitchen.view().vessels[1].band);
    CHECK(moved.kitchen.view().vessels[1].band->low.celsius == 60);
}
