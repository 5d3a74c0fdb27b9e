// Field-cases D2, D4, D7, D9: damaged, missing, foreign, held and locked files; versions; thinning;
// backup; doctor.
#include <sys/stat.h>

#include <algorithm>
#include <fstream>
#include <random>
#include <sstream>

#include "daemon/logbook/doctor.hpp"
#include "daemon/logbook/schema.hpp"
#include "support.hpp"
#include "tests/support/catch.hpp"
#include "told.hpp"

using namespace ingle;
using namespace ingle::logbook;
using namespace ingle::logbook::testing;

namespace {

void record(WriterOptions const& options, std::int64_t from, std::int64_t to, Told* told = nullptr,
            bool cook = false) {
    Writer writer(options, told ? told->callbacks() : Callbacks{});
    REQUIRE(writer.resume().recording);
    if (cook) {
        writer.cook_begun({3, "goose-roll", "ground-poultry", "poach", Instant(Span(from))});
        Memory memory;
        memory.put("dish.goose-roll.began", Instant(Span(from)));
        writer.remember(memory);
        writer.record(raised(41, from));
        for (int i = 0; i < 600; ++i) {  // so that the middle of the file is the middle of its rows
            Event note;
            note.at = Instant(Span(from + i)), note.name = "note", note.text.assign(1500, 'n');
            writer.record(note);
        }
    }
    std::mt19937 random(9);
    for (auto at = from; at < to; at += 1000) {
        writer.record(good(0, at, 85 + 0.25 * static_cast<double>(random() % 100)));
        if (at % 500'000 == 0) writer.flush(Span(5000));
    }
    REQUIRE(writer.flush(Span(5000)));
}

std::size_t readings(std::string const& path) {
    Reader reader(path);
    auto const n = reader.history({"stock", everything(), Span(0), false}).points.size();
    INFO(reader.failure());
    CHECK(reader.failure() == "");
    return n;
}

}  // namespace

// field case D4
TEST_CASE(
    "D4: 4 KiB overwritten in the middle: moved aside, a new file goes on, the cooks in the copy are named") {
    Scratch dir;
    auto options = options_for(dir / "l.db");
    options.seal_every = Span(60'000);
    record(options, 1000, 3'000'000, nullptr, true);
    auto const size = static_cast<std::int64_t>(std::filesystem::file_size(options.path));
    {
        std::fstream file(options.path, std::ios::binary | std::ios::in | std::ios::out);
        file.seekp(size / 2 / 4096 * 4096);
        std::mt19937 random(1);
        for (int i = 0; i < 4096; ++i) file.put(static_cast<char>(random()));
    }
    Told told;
    auto again = options;
    again.started = Instant(Span(3'000'000));
    record(again, 3'000'000, 3'060'000, &told);
    REQUIRE(told.count("logbook-damaged") == 1);
    CHECK(std::filesystem::exists(options.path + ".damaged-1"));
    CHECK_THAT(told.texts[0], INGLE_CONTAINS("damaged-1") && INGLE_CONTAINS("is held and is timed goes on"));
    CHECK(readings(options.path) >= 50);
    Reader reader(options.path);
    auto const copies = reader.damaged();
    REQUIRE(copies.size() == 1);
    CHECK_THAT(copies[0].cooks, INGLE_CONTAINS("goose-roll (3)"));
    Writer writer(again, {});
    auto const resumed = writer.resume();  // what the kitchen needs was taken over
    CHECK(resumed.memory.instant("dish.goose-roll.began") == Instant(Span(1000)));
    CHECK(resumed.last_alarm == 41);
    CHECK(resumed.last_cook == 3);
}

TEST_CASE("the damage is where the kitchen's memory is: that it is not known any more is said") {
    Scratch dir;
    auto options = options_for(dir / "l.db");
    record(options, 1000, 5000, nullptr, true);
    auto const page = number(options.path, "SELECT rootpage FROM sqlite_master WHERE name='memory'");
    {
        std::fstream file(options.path, std::ios::binary | std::ios::in | std::ios::out);
        file.seekp((page - 1) * number(options.path, "PRAGMA page_size"));
        for (int i = 0; i < 2000; ++i) file.put('\xa5');
    }
    Told told;
    record(options, 5000, 6000, &told);
    REQUIRE(told.count("logbook-damaged") == 1);
    CHECK_THAT(told.texts[0], INGLE_CONTAINS("held and timed before is not known here; begin it again") &&
                                  INGLE_CONTAINS("with the cooks goose-roll (3)"));
}

// field case D4
TEST_CASE("D4: an empty file is begun anew; what is no logbook is moved aside or refused") {
    Scratch dir;
    auto options = options_for(dir / "l.db");
    SECTION("0 bytes") {
        std::ofstream(options.path).flush();
        record(options, 1000, 5000);
        CHECK(readings(options.path) == 4);
    }
    SECTION("no database") {
        std::ofstream(options.path) << std::string(20'000, 'x');
        Told told;
        record(options, 1000, 5000, &told);
        CHECK(file_text(options.path + ".damaged-1") == std::string(20'000, 'x'));
        CHECK(readings(options.path) == 4);
        CHECK(told.count("logbook-damaged") == 1);
    }
    SECTION("another program's database, or one of a newer version") {
        bool const newer = GENERATE(true, false);
        if (newer) {
            record(options, 1000, 2000);
            number(options.path, "PRAGMA user_version=99");
        } else {
            Database other;
            REQUIRE(other.open(options.path, SQLITE_OPEN_READWRITE | SQLITE_OPEN_CREATE));
            other.run("CREATE TABLE mine(x)");
            REQUIRE(other.ok());
        }
        auto const before = number(options.path, "SELECT count(*) FROM sqlite_master");
        Told told;
        Writer writer(options, told.callbacks());
        auto const resumed = writer.resume();
        CHECK_FALSE(resumed.recording);
        CHECK_THAT(resumed.text, INGLE_CONTAINS(newer ? "newer ingled" : "another program"));
        CHECK(writer.trouble());
        CHECK(number(options.path, "SELECT count(*) FROM sqlite_master") == before);
        if (newer) CHECK_THAT(Reader(options.path).failure(), INGLE_CONTAINS("newer ingled"));
    }
}

TEST_CASE("the file is deleted or replaced while it is written to: nothing is lost") {
    Scratch dir;
    auto options = options_for(dir / "l.db");
    bool const replaced = GENERATE(false, true);
    Told told;
    Writer writer(options, told.callbacks());
    writer.resume();
    for (int i = 0; i < 10; ++i) writer.record(good(0, 2000 + 1000 * i, 85));
    REQUIRE(writer.flush(Span(5000)));
    std::filesystem::remove(options.path);
    if (replaced) std::ofstream(options.path).flush();
    for (int i = 10; i < 20; ++i) writer.record(good(0, 2000 + 1000 * i, 85));
    REQUIRE(writer.flush(Span(5000)));
    CHECK(told.count("logbook-missing") == 1);
    if (replaced) {
        CHECK(readings(options.path) == 10);
        CHECK(readings(options.path + ".saved-1") == 10);
    } else {
        CHECK(readings(options.path) == 20);
    }
}

// field case D9
TEST_CASE("D9: a foreign lock costs nothing") {
    Scratch dir;
    auto options = options_for(dir / "l.db");
    options.busy_ms = 1, options.retry_every = Span(1);
    Told told;
    Writer writer(options, told.callbacks());
    writer.resume();
    Database other;
    REQUIRE(other.open(options.path, SQLITE_OPEN_READWRITE));
    other.run("BEGIN IMMEDIATE");
    REQUIRE(other.ok());
    for (int i = 0; i < 100; ++i) writer.record(good(0, 2000 + 1000 * i, 85));
    CHECK_FALSE(writer.flush(Span(30)));
    CHECK(writer.counts().waiting == 100);
    other.run("ROLLBACK");
    REQUIRE(writer.flush(Span(5000)));
    CHECK(told.troubles.empty());  // it passed before it was trouble
    CHECK(readings(options.path) == 100);
}

// field case D7
TEST_CASE("D7: a reader that holds on is told, and the write-ahead file shrinks when it leaves") {
    Scratch dir;
    auto options = options_for(dir / "l.db");
    options.look_every = Span(0), options.large_wal = 2 << 20;
    Told told;
    Writer writer(options, told.callbacks());
    writer.resume();
    writer.record(good(0, 1500, 85));
    REQUIRE(writer.flush(Span(5000)));
    Database held;
    REQUIRE(held.open(options.path, SQLITE_OPEN_READONLY));
    held.run("BEGIN; SELECT count(*) FROM boot");
    REQUIRE(held.ok());
    Event big;
    big.name = "note", big.text.assign(200'000, 'n');
    for (int i = 0; i < 150; ++i) {
        big.at = Instant(Span(2000 + i));
        writer.record(big);
        REQUIRE(writer.flush(Span(5000)));
    }
    CHECK(std::filesystem::file_size(options.path + "-wal") > 25u << 20);
    CHECK(told.count("logbook-held") == 1);
    held.run("COMMIT");
    for (int i = 0; i < 20; ++i) {
        big.at = Instant(Span(3000 + i));
        writer.record(big);
        REQUIRE(writer.flush(Span(5000)));
    }
    CHECK(std::filesystem::file_size(options.path + "-wal") <= 17u << 20);
}

TEST_CASE("a logbook of each earlier version is brought up to date and reads the same") {
    for (int version = 1; version <= newest_version(); ++version) {
        Scratch dir;
        auto const path = dir / "old.db";
        std::string const dump =
            file_text(TEST_DATA "/unit/daemon/logbook/old/logbook-v" + std::to_string(version) + ".sql");
        REQUIRE_FALSE(dump.empty());
        {
            Database db;
            REQUIRE(db.open(path, SQLITE_OPEN_READWRITE | SQLITE_OPEN_CREATE));
            db.run(dump.c_str());
            REQUIRE(db.ok());
            REQUIRE(db.number("PRAGMA user_version") == version);
        }
        auto options = options_for(path, "boot-of-today");
        options.clock.offset_ms += 100 * 86'400'000LL;
        {
            Writer writer(options, {});
            auto const resumed = writer.resume();
            CHECK(resumed.text == "");
            REQUIRE(resumed.recording);
            CHECK(resumed.memory.text("dish.goose-roll.stage") == "poach");
            writer.record(good(0, 2000, 85));
            REQUIRE(writer.flush(Span(5000)));
        }
        CHECK(number(path, "PRAGMA user_version") == newest_version());
        CHECK(word(path, "PRAGMA integrity_check") == "ok");
        // The file was written with 85 + 0.25 * (i % 7) each second for 2000 s, one fault and one note.
        auto const h = Reader(path).history(
            {"stock", {WallTime(Span(0)), WallTime(Span(midnight + 2'500'000))}, Span(0), false});
        REQUIRE(h.points.size() == 2000);
        bool same = true;
        for (std::size_t i = 0; i < 2000; ++i)
            same =
                same && h.points[i].mean == 85 + 0.25 * static_cast<double>(i % 7) &&
                h.points[i].at.wall == WallTime(Span(midnight + 2000 + 1000 * static_cast<std::int64_t>(i)));
        CHECK(same);
        CHECK(h.faults.size() == 1);
        CHECK(word(path, "SELECT text FROM note") == "skimmed the stock");
        CHECK(number(path, "SELECT count(*) FROM reading WHERE probe='stock'") == 2001);
    }
}

TEST_CASE("thinning takes old readings, never those of a kept cook, never the roll-ups") {
    Scratch dir;
    auto options = options_for(dir / "l.db");
    constexpr std::int64_t day = 86'400'000;
    options.seal_every = Span(day / 4), options.keep_days = 10;
    {
        Writer writer(options, {});
        writer.resume();
        writer.cook_begun({1, "goose-roll", "ground-poultry", "poach", Instant(Span(5 * day))});
        writer.cook_ended(1, Instant(Span(6 * day)));
        writer.cook_begun({2, "trout", "fish", "brine", Instant(Span(8 * day))});
        writer.cook_ended(2, Instant(Span(9 * day)));
        writer.keep_cook(2, false);
        for (std::int64_t at = day; at < 30 * day; at += 600'000) {
            writer.record(good(0, at, 4));
            if (at % (day / 4) == 0) writer.flush(Span(5000));
        }
        REQUIRE(writer.flush(Span(5000)));
    }
    auto const count = [&](double from, double to) {
        return number(options.path, ("SELECT count(*) FROM raw_reading WHERE boot_ms>=" +
                                     std::to_string(from * day) + " AND boot_ms<" + std::to_string(to * day))
                                        .c_str());
    };
    CHECK(count(1, 4) == 0);
    CHECK(count(5, 6) == 144);
    CHECK(count(8, 9) == 0);
    CHECK(count(21, 30) == 9 * 144);
    std::uint64_t n = 0;
    for (auto const& p : Reader(options.path).history({"stock", everything(), Span(3'600'000), false}).points)
        n += p.n;
    CHECK(n == 29 * 144);
    // Of a short span, which is asked for finely, the minutes are there: of what was thinned and of what was
    // not.
    for (std::int64_t from : {2 * day, 5 * day + day / 2, 25 * day}) {
        CAPTURE(from / day);
        auto const points =
            Reader(options.path)
                .history({"stock",
                          {WallTime(Span(midnight + from)), WallTime(Span(midnight + from + 1'200'000))},
                          Span(2'500),
                          false})
                .points;
        REQUIRE(points.size() == 2);
        for (auto const& point : points) CHECK((point.n == 1 && point.mean == 4));
    }
}

TEST_CASE("a probe that is replaced or calibrated keeps its old readings as they were") {
    Scratch dir;
    auto options = options_for(dir / "l.db");
    options.seal_every = GENERATE(Span(0), Span(3'600'000));
    {
        Writer writer(options, {});
        writer.resume();
        writer.record(good(0, 2000, 80));
        writer.calibrated(Instant(Span(2500)), 0, {{{80}, {82}}});
        writer.record(good(0, 3000, 80));
        REQUIRE(writer.flush(Span(5000)));
    }
    auto replaced = options;
    replaced.probes[0] = {"stock", "serial-line", "port=/dev/ttyUSB0 channel=T1", {}};
    replaced.probes.insert(replaced.probes.begin(),
                           {"room", "simulated", "of=room", {}});  // the numbers move, too
    replaced.started = Instant(Span(4000));
    {
        Writer writer(replaced, {});
        writer.resume();
        writer.record(good(1, 5000, 80));
        writer.record(good(0, 5000, 21));
        REQUIRE(writer.flush(Span(5000)));
    }
    Reader reader(options.path);
    auto const celsius = reader.history({"stock", everything(), Span(0), false}).points;
    REQUIRE(celsius.size() == 3);
    CHECK(celsius[0].mean == 80);
    CHECK(celsius[1].mean == 82);
    CHECK(celsius[2].mean == 80);
    for (auto const& p : reader.history({"stock", everything(), Span(0), true}).points) CHECK(p.mean == 80);
    CHECK(reader.history({"room", everything(), Span(0), false}).points.size() == 1);
    auto const probes = reader.probes();
    REQUIRE(probes.size() == 4);
    CHECK(probes[0].calibrations.size() == 2);
    CHECK(probes[0].calibrations[1].points == "[[80,82]]");
}

TEST_CASE("a backup is taken while recording goes on, and never over a file") {
    Scratch dir;
    auto const options = options_for(dir / "l.db");
    Writer writer(options, {});
    writer.resume();
    for (int i = 0; i < 100; ++i) writer.record(good(0, 2000 + 1000 * i, 85));
    REQUIRE(writer.flush(Span(5000)));
    auto const copy = dir / "copy.db";
    Reader reader(options.path);
    CHECK(reader.backup_to(copy));
    CHECK(reader.failure() == "");
    writer.record(good(0, 200'000, 85));
    REQUIRE(writer.flush(Span(5000)));
    CHECK(readings(copy) == 100);
    CHECK(readings(options.path) == 101);
    CHECK(word(copy, "PRAGMA integrity_check") == "ok");
    CHECK_FALSE(reader.backup_to(copy));
    CHECK_THAT(reader.failure(), INGLE_CONTAINS("exists"));
    CHECK(number(copy, "PRAGMA application_id") == application_id);
}

TEST_CASE("the doctor says what is wrong and what to do") {
    Scratch dir;
    auto options = options_for(dir / "l.db");
    options.seal_every = Span(60'000);
    auto const worst = [](std::vector<Finding> const& findings) {
        auto w = Finding::Level::good;
        for (auto const& f : findings) w = std::max(w, f.level);
        return w;
    };
    CHECK(worst(examine(options.path)) == Finding::Level::bad);  // no file yet
    record(options, 1000, 3'000'000);
    auto const healthy = examine(options.path);
    CHECK(healthy.size() >= 4);
    CHECK(worst(healthy) == Finding::Level::good);
    {
        std::fstream file(options.path, std::ios::binary | std::ios::in | std::ios::out);
        file.seekp(static_cast<std::int64_t>(std::filesystem::file_size(options.path)) / 2 / 4096 * 4096);
        for (int i = 0; i < 4096; ++i) file.put(static_cast<char>(i * 31));
    }
    auto const sick = examine(options.path);
    CHECK(worst(sick) == Finding::Level::bad);
    bool advice = false;
    for (auto const& f : sick) advice = advice || (f.level == Finding::Level::bad && !f.remedy.empty());
    CHECK(advice);
}
