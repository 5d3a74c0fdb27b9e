// What a core does not know of the past when it starts is taken up when it is known, as if it had been known
// from the start: a logbook that opens late, an outage whose length the clock tells later.
#include <map>
#include <optional>

#include "config/load.hpp"
#include "daemon/run/core.hpp"
#include "tests/support/catch.hpp"
#include "tests/unit/daemon/logbook/support.hpp"

using namespace ingle;
using logbook::testing::midnight;
using logbook::testing::Scratch;

namespace {

constexpr char const* kitchen = R"(
[kitchen]
name = "village hall"
units = "degC"
altitude = "0 m"
[[probe]]
name = "stock"
driver = "simulated"
of = "stockpot"
[[vessel]]
name = "stockpot"
kind = "pot"
medium = "stock"
on-delay = "0 s"
off-delay = "0 s"
[[dish]]
name = "roll"
vessel = "stockpot"
food = "ground-poultry"
[[dish]]
name = "tart"
vessel = "stockpot"
food = "egg-dish"
[[channel]]
name = "phone"
kind = "webhook"
url = "http://127.0.0.1:1/notice"
)";

Settings settings() {
    auto parsed = parse_kitchen(kitchen, "kitchen.toml");
    for (auto const& error : parsed.errors) FAIL(error.text());
    return parsed.settings;
}

// The roll is kept cold by three stages, the first two of 40 min.
Settings in_stages() {
    auto out = settings();
    PlanSettings plan{.name = "keep"};
    for (char const* name : {"first", "second", "third"}) {
        StageSettings stage{.name = name, .does = Does::cold_hold};
        stage.counts_from_begin = true;
        if (plan.stages.size() < 2) stage.until.time = Duration{2400};
        plan.stages.push_back(stage);
        plan.stage_vessels.emplace_back();
    }
    out.plans.push_back(plan);
    out.dishes[0].plan = "keep";
    return out;
}

struct Life {
    Life(std::string const& path, char const* boot, Instant start, ClockAnchor clock,
         Settings const& kitchen_file = settings())
        : now(start), anchor(clock), writer(options(path, boot, start, clock), {}) {
        core.emplace(kitchen_file, start, writer,
                     Core::Neighbours{[this](Tell const& tell) {
                                          for (auto const& alarm : tell.alarms)
                                              ++told[tell.kind + ' ' + std::string(alarm.type->name)];
                                      },
                                      [this](Effects const& effects) {
                                          for (auto const& effect : effects)
                                              if (auto const* event = std::get_if<Event>(&effect))
                                                  events.push_back(*event);
                                      }});
        resumed = writer.resume(Span(10'000));
        REQUIRE(resumed.recording);
    }
    static logbook::WriterOptions options(std::string const& path, char const* boot, Instant start,
                                          ClockAnchor clock) {
        auto o = logbook::testing::options_for(path, boot);
        o.probes = {{"stock", "simulated", "of=stockpot", {}}};
        o.vessels = {"stockpot"}, o.dishes = {"roll", "tart"};
        o.started = start, o.clock = clock;
        return o;
    }
    void recall() { core->recall(resumed, anchor); }
    void run(int length_s, double celsius) {
        for (int s = 0; s < length_s; ++s) {
            now += Span(1000);
            core->take(0, Reading::good(now, celsius));
            core->advance(now);
        }
    }
    void command(Command const& what) { core->command(now, what); }
    void set_clock(ClockAnchor clock) {
        writer.anchor(now, anchor = clock);
        core->command(now, clock);
        while (core->catch_up(Span(1))) {
        }
    }
    void end() {
        core->remember(now);
        REQUIRE(writer.flush(Span(10'000)));
    }
    DishView dish(std::size_t number) const { return core->view().dishes[number]; }
    int count(std::string_view event) const {
        return static_cast<int>(
            std::ranges::count_if(events, [&](Event const& e) { return e.name == event; }));
    }

    Instant now;
    ClockAnchor anchor;
    logbook::Resumed resumed;
    std::map<std::string, int> told;
    std::vector<Event> events;
    logbook::Writer writer;
    std::optional<Core> core;
};

std::map<std::string, std::string> memory_of(std::string const& path) {
    logbook::Database db;
    REQUIRE(db.open(path, SQLITE_OPEN_READONLY));
    std::map<std::string, std::string> memory;
    logbook::Statement rows(db, "SELECT key, value FROM memory");
    while (rows.step()) memory[rows.text(0)] = rows.text(1);
    return memory;
}

constexpr Instant start{Span(1000)};
constexpr ClockAnchor right{midnight, true};

// A cook, a hold and a shelved alarm; ends at 100 s of the boot.
void first_life(std::string const& path) {
    Life life(path, "boot-a", start, right);
    life.recall();
    life.command(right);
    life.command(Hold{0, Band{{60}, {70}}});
    life.command(Begin{0});
    life.run(60, 65);
    life.run(30, 80);
    auto const alarms = life.core->view().alarms;
    REQUIRE_FALSE(alarms.empty());
    life.command(Shelve{alarms.front().id, std::chrono::hours(1), "cook"});
    life.run(9, 80);
    life.end();
}

}  // namespace

TEST_CASE("a logbook that opens late is taken up as if it had been open from the start") {
    Scratch dir;
    std::map<std::string, std::string> memories[2];
    std::int64_t alarms[2] = {};
    for (bool const late : {false, true}) {
        auto const path = dir / (late ? "late.db" : "in-time.db");
        first_life(path);
        auto const before = memory_of(path);
        Life life(path, "boot-a", start + Span(200'000), right);
        if (!late) life.recall();
        life.command(right);
        life.run(10, 80);
        if (late) {
            CHECK_FALSE(life.dish(0).begun);
            life.core->remember(life.now);
            REQUIRE(life.writer.flush(Span(10'000)));
            CHECK(memory_of(path) == before);  // nothing was written over it
        }
        life.command(Hold{0, Band{{62}, {72}}});
        life.command(Begin{1});
        life.run(15, 80);
        if (late) {
            life.recall();
            while (life.core->catch_up(Span(1))) {
            }
            CHECK(life.count("past-taken-up") == 1);
        }
        CHECK(life.dish(0).cook == 1);
        CHECK(life.dish(1).cook == 2);
        CHECK(life.core->view().vessels[0].band == Band{{62}, {72}});
        auto const open = life.core->view().alarms;
        REQUIRE_FALSE(open.empty());
        CHECK(std::ranges::any_of(open, [](Alarm const& a) { return a.state == AlarmState::shelved; }));
        life.run(5, 80);
        life.end();
        memories[late] = memory_of(path);
        alarms[late] = logbook::testing::number(path, "SELECT count(*) FROM alarm_change");
        CHECK(logbook::testing::number(path, "SELECT count(*) FROM cook") == 2);
        CHECK(logbook::testing::number(path, "SELECT count(*) FROM cook WHERE ended_ms IS NOT NULL") == 0);
        CHECK(logbook::testing::number(
                  path, "SELECT count(*) FROM (SELECT DISTINCT alarm, name, subject FROM alarm_change)") ==
              logbook::testing::number(path, "SELECT count(DISTINCT alarm) FROM alarm_change"));
    }
    CHECK(memories[0] == memories[1]);
    CHECK(alarms[0] == alarms[1]);
}

TEST_CASE("what was done before a logbook opened, and cannot be taken up, is told") {
    Scratch dir;
    auto const path = dir / "l.db";
    first_life(path);
    Life life(path, "boot-a", start + Span(200'000), right);
    life.command(right);
    life.run(5, 65);
    life.command(Begin{0});
    life.run(5, 65);
    life.recall();
    while (life.core->catch_up(Span(1))) {
    }
    CHECK(life.dish(0).cook == 1);
    CHECK(life.core->view().vessels[0].band == Band{{60}, {70}});
    REQUIRE(life.count("not-taken-up") == 1);
    life.run(10, 65);
    CHECK(life.told["raised order-dropped"] == 1);
}

TEST_CASE("an order that was refused before a logbook opened is not done when it opens") {
    Scratch dir;
    auto const path = dir / "l.db";
    first_life(path);
    Life life(path, "boot-a", start + Span(200'000), right);
    life.command(right);
    life.run(5, 65);
    for (Command const& order : {Command(Next{0}), Command(End{0}), Command(Back{0}), Command(StopTimer{1}),
                                 Command(StopReminder{1})}) {
        auto const effects = life.core->command(life.now, order);
        CAPTURE(order.index());
        CHECK(std::ranges::any_of(effects, [](Effect const& effect) {
            auto const* event = std::get_if<Event>(&effect);
            return event && event->name == "refused";
        }));
    }
    life.run(5, 65);
    life.recall();
    while (life.core->catch_up(Span(1))) {
    }
    CHECK(life.dish(0).begun);
    CHECK(life.core->view().vessels[0].band == Band{{60}, {70}});
    auto const open = life.core->view().alarms;
    CHECK(std::ranges::any_of(open, [](Alarm const& a) { return a.state == AlarmState::shelved; }));
    CHECK(life.count("not-taken-up") == 0);
}

TEST_CASE(
    "a next that was said while the outage was unknown leaves the stage that it was said to, and no other") {
    Scratch dir;
    auto const path = dir / "l.db";
    {
        Life life(path, "boot-a", start, right, in_stages());
        life.recall();
        life.command(right);
        life.command(Begin{0});
        life.run(60, 4);
        life.end();
    }
    auto const off_min = GENERATE(5, 60);  // within the first stage, and beyond its end
    auto const truth = midnight + 61'000 + off_min * 60'000 - 5'000;
    ClockAnchor const saved{midnight - 10 * 60'000, true, false};  // as a board without a battery starts
    Life life(path, "boot-b", Instant(Span(5'000)), saved, in_stages());
    life.recall();
    life.command(saved);
    life.run(10, 4);
    REQUIRE(life.dish(0).stage == "first");
    life.command(Next{0});
    REQUIRE(life.dish(0).stage == "second");
    bool const taken_back = GENERATE(false, true), twice = GENERATE(false, true);
    if (twice) {
        life.run(15, 4);
        life.command(Next{0});
        REQUIRE(life.dish(0).stage == "third");
    }
    if (taken_back) {
        life.run(5, 4);
        life.command(Back{0});
        REQUIRE(life.dish(0).stage == (twice ? "second" : "first"));
    }
    life.run(10, 4);
    life.set_clock({truth, true, true});
    CAPTURE(off_min, taken_back, twice);
    bool const first = taken_back && !twice && off_min == 5, third = twice && !taken_back;
    CHECK(life.dish(0).stage == (first ? "first" : third ? "third" : "second"));
    CHECK(life.dish(0).begun);
}

TEST_CASE("an outage of unknown length is judged again when something vouches for the clock") {
    Scratch dir;
    auto const path = dir / "l.db";
    first_life(path);
    // The board was off for 42 min; its saved time is 30 min behind, or 20 min ahead.
    auto const wrong_min = GENERATE(-30, 20);
    auto const truth = midnight + 101'000 + 42 * 60'000 - 5'000;  // of boot b's zero: it began at 5 s
    ClockAnchor const saved{truth + wrong_min * 60'000, true, false};
    Life life(path, "boot-b", Instant(Span(5'000)), saved);
    CHECK_FALSE(logbook::off_since(life.resumed, saved));
    life.recall();
    life.command(saved);
    REQUIRE(life.count("gap") == 1);
    CHECK(life.events[1].numbers.empty());
    life.run(600, 65);
    CHECK(life.dish(0).begun);
    life.set_clock({truth, true, true});
    REQUIRE(life.count("gap") == 2);
    auto const gap = std::ranges::find_if(
        life.events, [](Event const& e) { return e.name == "gap" && !e.numbers.empty(); });
    REQUIRE(gap != life.events.end());
    CHECK(std::abs(gap->numbers.at(0).second - 42 * 60) < 3);
    REQUIRE(life.dish(0).began);
    CHECK(std::abs(seconds(life.now - *life.dish(0).began) - (100 + 42 * 60 + 600)) < 3);
    life.run(5, 65);
    life.end();

    // And off again: this time both clocks are right.
    Life next(path, "boot-c", Instant(Span(5'000)), {truth + 605'000 + 60'000, true, true});
    next.recall();
    CHECK(next.count("gap") == 1);
    CHECK(std::abs(seconds(next.now - *next.dish(0).began) - (100 + 42 * 60 + 605 + 60)) < 3);
}

TEST_CASE(
    "outages in a row on a board that knew no time between them are measured together when it is known, also "
    "after a restart or a reload between") {
    Scratch dir;
    auto const path = dir / "l.db";
    {
        Life life(path, "boot-a", start, right);
        life.recall();
        life.command(right);
        life.command(Begin{0});
        life.command(StartTimer{Span(3'600'000), "tea"});
        life.run(100, 65);
        life.end();
    }
    auto const how = GENERATE(0, 1, 2);  // cut again, another one yet, or only the program stopped
    auto const ahead_ms = GENERATE(60'000, 3 * 60'000);  // the saved time, of the newest one known
    ClockAnchor const saved{midnight + ahead_ms + 40'000, true, false};
    Instant between{};
    {
        Life life(path, "boot-b", Instant(Span(5'000)), saved);
        life.recall();
        life.command(saved);
        life.command(StartTimer{Span(1'200'000), "eggs"});
        life.run(20, 65);
        life.end();
        between = life.now;
    }
    if (how == 1) {
        Life life(path, "boot-b2", Instant(Span(5'000)), {midnight + 260'000, true, false});
        life.recall();
        life.command(life.anchor);
        life.run(20, 65);
        life.end();
    }
    char const* const boot = how == 2 ? "boot-b" : "boot-c";
    auto const began = how == 2 ? between + Span(30'000) : Instant(Span(5'000));
    // True: 100 s, off, 20 s (twice where it was cut three times), off, and now.
    std::int64_t const all_off = 6 * 3'600'000 + 28 * 60'000;
    auto const ran = how == 1 ? 40'000 : 20'000;
    auto const true_offset =
        midnight + (start - Instant{}).count() + 100'000 + all_off + ran - (began - Instant{}).count();
    ClockAnchor const wrong{how == 2 ? saved.offset_ms : midnight + 70'000, true, false};
    bool const at_once = GENERATE(false, true);  // the time is known when it starts
    CAPTURE(how, at_once);
    ClockAnchor const truth{true_offset, true, true};
    Life life(path, boot, began, at_once ? truth : wrong);
    life.recall();
    life.command(at_once ? truth : wrong);
    life.run(20, 65);
    if (!at_once) life.set_clock(truth);
    auto const gap = std::ranges::find_if(
        life.events, [](Event const& e) { return e.name == "gap" && e.text.find("in all") != e.text.npos; });
    REQUIRE(gap != life.events.end());
    CHECK(std::abs(gap->numbers.at(0).second - static_cast<double>(all_off) / 1000) < 4);
    REQUIRE(life.dish(0).began);
    CHECK(std::abs(seconds(life.now - *life.dish(0).began) - (100 + 20 + (ran + all_off) / 1000.0)) < 4);
    auto const timers = life.core->view().timers;
    REQUIRE(timers.size() == 2);
    auto const& tea = timers[timers[0].text == "tea" ? 0 : 1];
    auto const& eggs = timers[timers[0].text == "tea" ? 1 : 0];
    CHECK(tea.over);
    CHECK(std::abs(seconds(life.now - tea.ends) - (100 + 20 + (ran + all_off) / 1000.0 - 3600)) < 4);
    if (how == 2) {  // set in this boot: whatever was before it
        CHECK_FALSE(eggs.over);
        CHECK(std::abs(seconds(eggs.ends - life.now) - (1200 - 20 - 30 - 20)) < 4);
    } else {  // an outage came after it, and how long that one was is not known: it may be over
        CHECK(eggs.over);
    }
    CHECK(life.dish(0).begun);
    life.end();
    // Measured once, and not again.
    CHECK_FALSE(life.core->state().text("outage.offset-ms"));
}

TEST_CASE("a cook that began between two outages of unknown length is not one of which all was read") {
    Scratch dir;
    auto const path = dir / "l.db";
    first_life(path);
    ClockAnchor const saved{midnight + 60'000, true, false};
    {
        Life life(path, "boot-b", Instant(Span(5'000)), saved);
        life.recall();
        life.command(saved);
        life.command(Begin{1});
        life.run(20, 65);
        life.end();
    }
    Life life(path, "boot-c", Instant(Span(5'000)), saved);
    life.recall();
    life.command(saved);
    life.run(20, 65);
    life.set_clock({midnight + 7'200'000, true, true});
    CHECK(life.dish(1).begun);
    REQUIRE(life.dish(1).began);
    CHECK(*life.dish(1).began < life.now);
}
