// The core as a whole: the same in is the same out, a restart changes nothing, nonsense is refused.
#include "tests/support/catch.hpp"
#include "tests/support/kitchen_run.hpp"

using namespace ingle;
using namespace ingle::test;

namespace {

// A pot that is held, drifts out, loses its probe and comes back; a fridge; a dish with a plan.
Settings busy_kitchen() {
    Settings settings;
    settings.name = "village hall";
    settings.units = TemperatureUnit::fahrenheit;
    settings.altitude = Length{240};
    int const stock = add_probe(settings, "stock"), air = add_probe(settings, "fridge-air"),
              core = add_probe(settings, "goose-core");
    add_vessel(settings, "stockpot", VesselKind::pot, stock, {{82.2, 87.8}});
    add_vessel(settings, "fridge", VesselKind::fridge, air, {{1, 5}});
    auto& dish = add_dish(settings, "goose-roll", 0, core, "ground-poultry");
    dish.plan = "poach";
    PlanSettings plan;
    plan.name = "poach";
    plan.stages.resize(2);
    plan.stages[0].name = "poach";
    plan.stages[0].band = Band{{82.2}, {87.8}};
    plan.stages[0].until.core = Temperature{73.9};
    plan.stages[1].name = "chill";
    plan.stages[1].does = Does::chill;
    plan.stages[1].vessel = 1;
    plan.stages[1].at_most = Duration{3600};
    plan.stage_vessels = {"", "fridge"};
    settings.plans.push_back(plan);
    return settings;
}

void feed(Run& run) {
    run.probe("stock",
              probe_of(Series{{0, 84}, {30, 85}, {60, 91}, {70, 86}, {90, 86}, {95, 85}, {300, 85}}, 3));
    run.probe("fridge-air", probe_of(
                                [](double m) -> std::optional<double> {
                                    if (m > 100 && m < 110) return std::nullopt;
                                    return 3 + std::sin(m / 8);
                                },
                                4));
    run.probe("goose-core", probe_of(Series{{0, 6}, {150, 76}, {170, 77}, {300, 40}}, 5), 5);
}

}  // namespace

TEST_CASE("the same readings twice give the same bytes") {
    auto const once = [] {
        Run run(busy_kitchen());
        feed(run);
        run.tell(Begin{0});
        run.until(240);
        return run.lines() +
               summary_line(run.settings(), Instant(Span(5'000'000)), run.now(), run.kitchen().summary());
    };
    auto const first = once();
    CHECK(first.size() > 1000);
    CHECK(first == once());
}

TEST_CASE("how often the core is told the time makes no difference") {
    auto const with = [](int advances) {
        auto const settings = busy_kitchen();
        Instant const start(Span(5'000'000));
        Kitchen kitchen(settings, start);
        Effects effects;
        auto source = probe_of(Series{{0, 84}, {30, 85}, {60, 91}, {90, 86}}, 3);
        for (int s = 0; s < 5000; ++s) {
            auto const at = start + std::chrono::milliseconds(s * 1000 + 137);
            if (auto const reading = source(s, at)) kitchen.take(0, *reading, effects);
            for (int i = 1; i <= advances; ++i)
                kitchen.advance(at + std::chrono::milliseconds(i * 900 / advances), effects);
        }
        std::string lines;
        for (auto const& effect : effects) {
            if (auto line = replay_line(settings, start, effect)) lines += *line + "\n";
        }
        return lines;
    };
    auto const never = with(0);
    CHECK(never == with(1));
    CHECK(never == with(9));
}

TEST_CASE("a restart in the middle of an alarm tells nothing twice and forgets nothing") {
    Run run(busy_kitchen());
    feed(run);
    run.tell(Begin{0});
    run.until(62);  // above the band since about minute 46
    REQUIRE(run.alarms("above-band").size() == 1);
    auto const before = run.kitchen().view();
    run.restart(std::chrono::seconds(5));
    CHECK(run.events("gap").size() == 1);
    auto const after = run.kitchen().view();
    REQUIRE(after.dishes[0].begun);
    CHECK(after.dishes[0].stage == "poach");
    CHECK(after.dishes[0].cook == before.dishes[0].cook);
    CHECK(after.alarms.size() == before.alarms.size());
    run.until(240);
    CHECK(run.alarms("above-band").size() == 1);
    REQUIRE(run.alarms("above-band")[0].cleared);
    CHECK(run.alarms("core-target").size() == 1);
}

TEST_CASE("what is remembered and recalled is remembered again, letter by letter") {
    Run run(busy_kitchen());
    feed(run);
    run.tell(Begin{0});
    run.tell(Hold{1, Band{{0}, {4}}});
    run.until(62);
    auto const memory = run.kitchen().remember();
    Kitchen again(run.settings(), run.now());
    Effects effects;
    again.recall(memory, run.now(), effects);
    auto const second = again.remember();
    for (auto const& [key, value] : memory.all()) {
        INFO(key);
        auto const same = second.text(key);
        REQUIRE(same);
        CHECK(*same == value);
    }
    CHECK(second.all().size() == memory.all().size());
}

TEST_CASE("a held band survives a restart, and holding nothing does too") {
    Run run(one_vessel(VesselKind::pot, {{80, 90}}));
    run.tell(Hold{0, Band{{60}, {65}}});
    run.restart();
    REQUIRE(run.kitchen().view().vessels[0].band);
    CHECK(run.kitchen().view().vessels[0].band->low.celsius == 60);
    run.tell(Hold{0, std::nullopt});
    run.restart();
    CHECK_FALSE(run.kitchen().view().vessels[0].band);
    CHECK(run.kitchen().view().vessels[0].phase == "no reading");
}

TEST_CASE("a stage's band comes with the stage and goes with it") {
    auto settings = busy_kitchen();
    settings.vessels[0].band = Band{{60}, {70}};
    Run run(settings);
    auto const band = [&] { return run.kitchen().view().vessels[0].band->low.celsius; };
    CHECK(band() == 60);
    run.tell(Begin{0});
    CHECK(band() == 82.2);
    run.tell(Hold{0, Band{{50}, {55}}});
    CHECK(band() == 50);
    run.tell(End{0});
    CHECK(band() == 50);
}

TEST_CASE("nonsense is refused in a sentence") {
    Run run(busy_kitchen());
    for (Command const& command :
         {Command(Hold{-1, {}}), Command(Hold{9, Band{{1}, {2}}}), Command(Hold{0, Band{{2}, {1}}}),
          Command(Next{0}), Command(End{0}), Command(Begin{7}), Command(Next{-3}),
          Command(Note{{SubjectKind::dish, 44}, "x", {}}),
          Command(OutOfService{{SubjectKind::probe, -1}, true, "cook"}), Command(Switch{5, true}),
          Command(PressureNow{{0}}), Command(KitchenTrouble{"no-such", true, ""}),
          Command(DriverEvent{12, "x", "y"}), Command(Calibrate{-2, {}})}) {
        auto const before = run.events("refused").size();
        run.tell(command);
        CHECK(run.events("refused").size() == before + 1);
    }
    for (auto const& [minute, event] : run.events("refused")) CHECK(event.text.size() > 10);
    Effects effects;
    run.kitchen().take(17, Reading::good(run.now(), 5), effects);
    run.kitchen().take(-1, Reading::good(run.now(), 5), effects);
}

TEST_CASE("a contact that does not change is not called silent") {
    auto settings = one_vessel(VesselKind::smoker, {});
    settings.probes.push_back(settings.probes[0]);
    settings.probes[1].name = "lid";
    settings.vessels[0].door = 1;
    Run with_driver(settings);
    with_driver.until(20);
    CHECK(with_driver.alarms("probe-silent", "lid").size() == 1);
    settings.probes[1].contact = true;
    Run with_contact(settings);
    with_contact.until(20);
    CHECK(with_contact.alarms("probe-silent", "lid").empty());
    CHECK(with_contact.alarms("probe-silent").size() == 1);  // the medium, which nobody reads here
}

TEST_CASE("an event of the kitchen as a whole is told") {
    Run run(one_vessel(VesselKind::pot, {}));
    run.tell(DriverEvent{-1, "reload-refused", "why"});
    auto const events = run.events("reload-refused");
    REQUIRE(events.size() == 1);
    CHECK(events[0].second.subject == Subject{});
    CHECK(events[0].second.text == "why");
}

TEST_CASE("who was told of one that fails is told of each further one, once, also over a restart") {
    auto settings = one_vessel(VesselKind::pot, {});
    settings.channels.push_back({});
    settings.channels.back().name = "phone";
    Run run(settings);
    auto const told = [&] {
        std::vector<std::string> texts;
        for (auto const& effect : run.effects())
            if (auto const* tell = std::get_if<Tell>(&effect);
                tell && tell->kind == "raised" && tell->alarms.front().type->name == "not-delivered")
                texts.push_back(tell->text);
        return texts;
    };
    run.tell(KitchenTrouble{"not-delivered", true, "mail fails", "mail"});
    run.tell(KitchenTrouble{"not-delivered", true, "bell fails; mail fails", "bell"});
    run.until(1);
    CHECK(told() == std::vector<std::string>{"bell fails; mail fails"});
    run.tell(KitchenTrouble{"not-delivered", true, "chef fails; bell fails; mail fails", "chef"});
    run.until(2);
    REQUIRE(told().size() == 2);
    CHECK(told()[1] == "Worse: chef fails; bell fails; mail fails");
    // It works again, and fails again: no news.
    run.tell(KitchenTrouble{"not-delivered", true, "bell fails; mail fails"});
    run.tell(KitchenTrouble{"not-delivered", true, "chef fails; bell fails; mail fails", "chef"});
    run.until(3);
    run.restart();
    run.tell(KitchenTrouble{"not-delivered", true, "mail fails", "mail"});
    run.until(4);
    CHECK(told().size() == 2);
    run.tell(KitchenTrouble{"not-delivered", true, "post fails; mail fails", "post"});
    run.until(5);
    REQUIRE(told().size() == 3);
    CHECK(told()[2] == "Worse: post fails; mail fails");
    // Over, and anew: all of it is news.
    run.tell(KitchenTrouble{"not-delivered", false, ""});
    run.until(20);
    run.tell(KitchenTrouble{"not-delivered", true, "mail fails", "mail"});
    run.until(21);
    CHECK(told().size() == 4);
    run.tell(KitchenTrouble{"not-delivered", true, "post fails; mail fails", "post"});
    run.until(22);
    CHECK(told().size() == 5);
}

TEST_CASE("trouble outside the core becomes an alarm and goes again") {
    Run run(one_vessel(VesselKind::pot, {}));
    run.tell(KitchenTrouble{"not-recording", true, "the disk is full"});
    run.until(1);
    REQUIRE(run.alarms("not-recording", "kitchen").size() == 1);
    run.tell(KitchenTrouble{"not-recording", false, ""});
    run.until(2);
    CHECK(run.alarms("not-recording")[0].cleared);
    run.tell(ClockAnchor{1000, false});
    run.until(6);
    CHECK(run.alarms("clock-uncertain").size() == 1);
    run.tell(ClockAnchor{90'000'000, true});
    run.until(8);
    CHECK(run.alarms("clock-uncertain")[0].cleared);
    CHECK(run.events("clock-set").size() == 1);
    CHECK(run.kitchen().view().wall_offset_ms == 90'000'000);
}

TEST_CASE("the boiling point follows height, weather and salt") {
    auto settings = one_vessel(VesselKind::pot, {});
    settings.altitude = Length{1600};
    Run run(settings);
    // US standard atmosphere at 1600 m is 83523.5 Pa, whose boiling point is 94.7 degC (IF97).
    CHECK_THAT(run.kitchen().view().vessels[0].boiling_c, WithinAbs(94.7, 0.1));
    run.tell(PressureNow{{101325}});
    CHECK_THAT(run.kitchen().view().vessels[0].boiling_c, WithinAbs(99.97, 0.02));
}

TEST_CASE("a core on its way past the stage's own limit is told, and by how much it may rise") {
    auto settings = busy_kitchen();
    settings.plans[0].stages[0].until.core.reset();
    settings.plans[0].stages[0].core_most = Temperature{70};
    Run run(settings);
    feed(run);
    run.tell(Begin{0});
    // 6 degC and 0.467 K/min: 70 degC at minute 137, so the word is due from minute 132 on.
    run.until(130);
    CHECK(run.alarms("overshoot-risk").empty());
    run.until(140);
    REQUIRE(run.alarms("overshoot-risk").size() == 1);
    CHECK_THAT(run.alarms("overshoot-risk")[0].text, INGLE_CONTAINS("158.0 degF"));
}

TEST_CASE("what was told of one cook is told again of the next") {
    auto settings = busy_kitchen();
    settings.plans[0].stages.resize(1);
    settings.plans[0].stage_vessels.resize(1);
    Run run(settings);
    run.probe("stock", probe_of(Series{{0, 85}, {300, 85}}, 3));
    run.probe("fridge-air", probe_of(Series{{0, 3}, {300, 3}}, 4));
    run.probe("goose-core", probe_of(Series{{0, 20}, {100, 80}, {130, 20}, {230, 80}, {300, 80}}, 5), 5);
    run.tell(Begin{0});
    run.until(98);
    CHECK(run.alarms("core-target").size() == 1);
    run.until(100);
    run.tell(End{0});
    run.until(131);
    run.tell(Begin{0});
    run.until(228);
    CHECK(run.alarms("core-target").size() == 2);
}

TEST_CASE("a cook that is ended early ends the stage that it is in") {
    Run run(busy_kitchen());
    feed(run);
    run.tell(Begin{0});
    run.until(20);
    run.tell(End{0});
    auto const ended = run.events("stage-ended");
    REQUIRE(ended.size() == 1);
    CHECK_THAT(ended[0].second.text, INGLE_CONTAINS("poach ended"));
}
