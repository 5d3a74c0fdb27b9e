// Whichever call of SQLite into the file system fails, once or until the card is repaired: the core raises
// and tells the same alarms at the same instants as on a sound disk, what waited is written afterwards, and
// what was lost is said.
#include <filesystem>
#include <map>
#include <mutex>
#include <set>

#include "config/load.hpp"
#include "daemon/run/core.hpp"
#include "tests/support/catch.hpp"
#include "tests/support/long_form.hpp"
#include "tests/unit/daemon/logbook/shim_vfs.hpp"
#include "tests/unit/daemon/logbook/support.hpp"

using namespace ingle;
using logbook::testing::Scratch;
using logbook::testing::ShimVfs;
using Failing = ShimVfs::Fault;

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
band = ["60 degC", "70 degC"]
on-delay = "0 s"
off-delay = "0 s"
[[dish]]
name = "roll"
vessel = "stockpot"
food = "ground-poultry"
[[channel]]
name = "phone"
kind = "webhook"
url = "http://127.0.0.1:1/notice"
)";
constexpr int run_seconds = 130;  // a fall in one second may be a hand's for a minute

struct Life {
    std::vector<std::string> alarms;  // what the core did, without the word on the logbook itself
    std::set<std::string> told;
    std::int64_t failed_calls = 0;
    bool not_recording = false, all_clear = false, flushed = false;
    std::vector<logbook::Recovered> recoveries;
};

// In the band, above it for a quarter of a minute, and in it again, with a cook. A disk that is broken for
// good is repaired at the end.
Life live(Settings const& settings, std::string const& path, ShimVfs& disk, std::size_t most_readings,
          bool broken_for_good) {
    Life life;
    std::mutex mutex;
    std::optional<logbook::Trouble> trouble;
    auto options = logbook::testing::options_for(path);
    options.probes = {{"stock", "simulated", "of=stockpot", {}}};
    options.dishes = {"roll"};
    options.vfs = disk.name();
    options.seal_every = Span(15'000), options.retry_every = Span(1), options.busy_ms = 0;
    options.most_readings = most_readings;
    logbook::Callbacks callbacks;
    callbacks.trouble = [&](logbook::Trouble const& t) {
        std::lock_guard const lock(mutex);
        trouble = t;
    };
    callbacks.recovered = [&](logbook::Recovered const& r) {
        std::lock_guard const lock(mutex);
        trouble.reset();
        life.recoveries.push_back(r);
    };
    std::optional<logbook::Resumed> late;
    callbacks.opened = [&](logbook::Resumed resumed) {
        std::lock_guard const lock(mutex);
        late = std::move(resumed);
    };
    logbook::Writer writer(options, callbacks);
    auto const resumed = writer.resume();
    Instant now = options.started;
    auto const about_logbook = [](Alarm const& alarm) { return alarm.type->name == "not-recording"; };
    Core core(settings, now, writer,
              {[&](Tell const& tell) {
                   for (auto const& alarm : tell.alarms) life.told.insert(std::string(alarm.type->name));
                   logbook::OutboxRow row;
                   row.id = "n-" + std::to_string(life.told.size()) + tell.text, row.channel = "phone";
                   row.kind = tell.kind, row.body = "{}", row.at = tell.at;
                   writer.put(row);
               },
               [&](Effects const& effects) {
                   for (auto const& effect : effects)
                       if (auto const* change = std::get_if<AlarmChanged>(&effect)) {
                           auto const& alarm = change->alarm;
                           if (about_logbook(alarm)) {
                               if (change->transition == Transition::raised) life.not_recording = true;
                               if (change->transition == Transition::cleared) life.all_clear = true;
                           } else if (change->transition != Transition::updated) {
                               life.alarms.push_back(std::to_string(change->at.time_since_epoch().count()) +
                                                     ' ' + std::string(alarm.type->name) + ' ' +
                                                     std::to_string(static_cast<int>(change->transition)));
                           }
                       }
               }});
    ClockAnchor const clock{logbook::testing::midnight, true};
    core.recall(resumed, clock);
    core.command(now, clock);
    auto const follow_opening = [&] {
        std::unique_lock lock(mutex);
        auto opened = std::exchange(late, std::nullopt);
        lock.unlock();
        if (opened) core.recall(std::move(*opened), clock);
        while (core.catch_up(Span(1000))) {
        }
    };
    bool said = false;
    auto const follow_trouble = [&] {
        std::lock_guard const lock(mutex);
        if (trouble.has_value() == std::exchange(said, trouble.has_value())) return;
        core.command(now, KitchenTrouble{"not-recording", said, said ? trouble->text : "recording again"});
    };
    for (int s = 0; s < run_seconds; ++s) {
        now += Span(1000);
        core.take(0, Reading::good(now, s >= 15 && s < 30 ? 74.0 : 65.0));
        core.advance(now);
        if (s == 8) core.command(now, Begin{0});
        // The writer gets its turn at the same places in every life.
        for (int tries = 0; s % 5 == 4 && !writer.flush(Span(4)) && tries < 1000; ++tries)
            if (broken_for_good && disk.failed() > 0) break;
        follow_opening();
        follow_trouble();
    }
    life.failed_calls = disk.failed();
    disk.fail(Failing::none, 0);  // repaired, if it was broken
    life.flushed = writer.flush(Span(20'000));
    follow_opening();
    follow_trouble();
    now += Span(1000);
    core.advance(now);
    life.flushed = life.flushed && writer.flush(Span(20'000));
    return life;
}

}  // namespace

TEST_CASE("whichever call of SQLite fails, once or for good: alarms go on, and what was lost is said") {
    auto const parsed = parse_kitchen(kitchen, "kitchen.toml");
    for (auto const& error : parsed.errors) FAIL_CHECK(error.text());
    Life sound;
    std::int64_t sound_calls = 0;
    {
        Scratch dir;
        ShimVfs disk("sound");
        sound = live(parsed.settings, dir / "l.db", disk, 500'000, false);
        sound_calls = disk.count().calls;
    }
    REQUIRE(sound.alarms.size() >= 2);
    REQUIRE(sound.told.contains("above-band"));
    REQUIRE(sound.recoveries.empty());

    auto const fault = GENERATE(Failing::io_error, Failing::full, Failing::read_only, Failing::busy);
    bool const for_good = GENERATE(false, true);
    bool const all = (fault == Failing::io_error && !for_good) || test::long_form();
    int const stride = all ? 1 : 3;  // the others fail where that one does: every third will do
    int hits = 0, in_trouble = 0;
    // No two lives make quite the same calls, and a full disk lets the reading ones pass.
    for (std::int64_t n = 1, beyond = 0; beyond < 3 || n < sound_calls; n += stride) {
        Scratch dir;
        auto const path = dir / "l.db";
        ShimVfs disk("nth");
        disk.fail(fault, n, for_good ? INT64_MAX : 1);
        auto const life = live(parsed.settings, path, disk, 500'000, for_good);
        if (life.failed_calls == 0) {
            ++beyond;
            continue;
        }
        beyond = 0, ++hits;
        INFO("fault " << static_cast<int>(fault) << (for_good ? " for good" : " once") << " from call " << n);
        REQUIRE(life.flushed);
        CHECK(life.alarms == sound.alarms);
        for (auto const& alarm : sound.told) CHECK(life.told.contains(alarm));
        in_trouble += life.not_recording;
        CHECK(life.not_recording == life.all_clear);
        for (auto const& r : life.recoveries) {
            CHECK(r.lost == 0);
            CHECK_THAT(r.text, INGLE_CONTAINS("of which nothing was lost"));
        }
        CHECK(logbook::testing::word(path, "PRAGMA integrity_check") == "ok");
        CHECK(logbook::testing::number(path, "SELECT count(*) FROM raw_reading") == run_seconds);
        CHECK(logbook::testing::number(path, "SELECT count(*) FROM cook WHERE ended_ms IS NULL") == 1);
        CHECK(logbook::testing::number(path, "SELECT count(*) FROM alarm_change WHERE name='above-band'") ==
              std::count_if(sound.alarms.begin(), sound.alarms.end(), [](std::string const& line) {
                  return line.find("above-band") != std::string::npos;
              }));
    }
    CHECK(hits > (fault == Failing::busy ? 10 : 40));
    // For good, it is said (but of another program's lock only after half a minute).
    if (for_good && fault != Failing::busy) CHECK(in_trouble > hits / 2);
}

TEST_CASE("a calibration made at run time is also what the next life's readings are stored with") {
    auto const parsed = parse_kitchen(kitchen, "kitchen.toml");
    Scratch dir;
    auto options = logbook::testing::options_for(dir / "l.db");
    options.probes = {{"stock", "simulated", "of=stockpot", {}}};
    auto const life = [&](auto body) {
        options.started += Span(10'000);
        logbook::Writer writer(options, {});
        auto const resumed = writer.resume();
        Core core(parsed.settings, options.started, writer, {[](Tell const&) {}, [](Effects const&) {}});
        core.recall(resumed, ClockAnchor{logbook::testing::midnight, true});
        body(core);
        core.remember(options.started + Span(5000));
        REQUIRE(writer.flush(Span(5000)));
    };
    // 80 once more behind each: a lone value waits for the one after it.
    auto const read = [&](Core& core, int ms) {
        core.take(0, Reading::good(options.started + Span(ms), 80));
        core.take(0, Reading::good(options.started + Span(ms + 500), 80));
    };
    life([&](Core& core) {
        read(core, 1000);
        core.command(options.started + Span(2000), Calibrate{0, {{{80}, {82}}}});
        read(core, 3000);
    });
    life([&](Core& core) { read(core, 1000); });
    logbook::Reader reader(options.path);
    auto const points = reader.history({"stock", logbook::testing::everything(), Span(0), false}).points;
    REQUIRE(points.size() >= 5);
    CHECK(points.front().mean == 80);
    CHECK(points.back().mean == 82);
    REQUIRE(reader.probes().size() == 1);
    CHECK(reader.probes()[0].calibrations.size() == 2);  // and not a third that says what the first did
}

TEST_CASE("what does not fit while the disk is broken is given up, oldest first, and that is said") {
    auto const parsed = parse_kitchen(kitchen, "kitchen.toml");
    Scratch dir;
    auto const path = dir / "l.db";
    ShimVfs disk("full");
    {
        ShimVfs trial("trial");
        Scratch other;
        live(parsed.settings, other / "l.db", trial, 500'000, false);
        disk.fail(Failing::full, trial.count().calls / 3, INT64_MAX);
    }
    auto const life = live(parsed.settings, path, disk, 20, true);
    REQUIRE(life.flushed);
    CHECK(life.not_recording);
    CHECK(life.all_clear);
    REQUIRE(life.recoveries.size() == 1);
    auto const& r = life.recoveries.front();
    auto const kept = logbook::testing::number(path, "SELECT count(*) FROM raw_reading");
    CHECK(r.lost > 0);
    CHECK(static_cast<std::int64_t>(r.lost) + kept == run_seconds);
    REQUIRE(r.span);
    CHECK((r.span->second - r.span->first).count() == (static_cast<std::int64_t>(r.lost) - 1) * 1000);
    CHECK_THAT(r.text, INGLE_CONTAINS(std::to_string(r.lost) + " readings"));
    CHECK(r.lost_others == 0);
    CHECK(logbook::testing::number(path, "SELECT count(*) FROM alarm_change WHERE name='above-band'") == 2);
}
