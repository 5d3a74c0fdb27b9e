// One run of a core over a logbook after another, on one board: for what it does not know of the past when it
// starts. For tests.
#pragma once

#include <map>
#include <optional>
#include <string>
#include <vector>

#include "config/load.hpp"
#include "daemon/run/core.hpp"
#include "tests/support/catch.hpp"
#include "tests/unit/daemon/logbook/support.hpp"

namespace ingle::past_lives {

using logbook::testing::midnight;

inline constexpr char const* kitchen = R"(
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

inline Settings settings() {
    auto parsed = parse_kitchen(kitchen, "kitchen.toml");
    for (auto const& error : parsed.errors) FAIL(error.text());
    return parsed.settings;
}

// The roll is kept cold by three stages, the first two of 40 min.
inline Settings in_stages() {
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
        core.emplace(kitchen_file, start, writer, neighbours());
        resumed = writer.resume(Span(10'000));
        REQUIRE(resumed.recording);
    }
    Core::Neighbours neighbours() {
        return {[this](Tell const& tell) {
                    for (auto const& alarm : tell.alarms)
                        ++told[tell.kind + ' ' + std::string(alarm.type->name)];
                },
                [this](Effects const& effects) {
                    for (auto const& effect : effects)
                        if (auto const* event = std::get_if<Event>(&effect)) events.push_back(*event);
                }};
    }
    // Another kitchen file is taken up.
    void reload(Settings const& kitchen_file = settings()) {
        core->remember(now);
        Core earlier(std::move(*core));
        logbook::Resumed handed;
        handed.known = true;
        handed.memory = earlier.state();
        handed.memory_boot.this_one = handed.off_boot.this_one = true;
        handed.off_at = handed.started = now;
        core.emplace(kitchen_file, now, writer, neighbours());
        core->go_on(std::move(handed), anchor);
        core->inherit(earlier);
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

inline std::map<std::string, std::string> memory_of(std::string const& path) {
    logbook::Database db;
    REQUIRE(db.open(path, SQLITE_OPEN_READONLY));
    std::map<std::string, std::string> memory;
    logbook::Statement rows(db, "SELECT key, value FROM memory");
    while (rows.step()) memory[rows.text(0)] = rows.text(1);
    return memory;
}

inline constexpr Instant start{Span(1000)};
inline constexpr ClockAnchor right{midnight, true};

// A cook, a hold and a shelved alarm; ends at 100 s of the boot.
inline void first_life(std::string const& path) {
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

}  // namespace ingle::past_lives
