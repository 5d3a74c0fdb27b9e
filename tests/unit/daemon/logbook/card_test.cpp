// Field cases of group D that need their exact input in bulk: house-keeping without room, hours of readings,
// set-points at 200 power cuts, a reader for six hours, what an hour costs, an export of a million rows.
#include <sys/wait.h>
#include <unistd.h>

#include <atomic>
#include <chrono>
#include <csignal>
#include <cstdlib>
#include <random>
#include <thread>

#include "shim_vfs.hpp"
#include "support.hpp"
#include "tests/support/catch.hpp"
#include "tests/support/long_form.hpp"
#include "told.hpp"

using namespace ingle;
using namespace ingle::logbook;
using namespace ingle::logbook::testing;

namespace {

WriterOptions four_probes(std::string path) {
    auto options = options_for(std::move(path));
    options.probes.clear();
    for (char const* name : {"stock", "smoker", "fridge", "room"})
        options.probes.push_back({name, "simulated", std::string("of=") + name, {}});
    return options;
}

// `seconds` of four probes read each second, committed as the clock of a real run would: each ten seconds.
void record_four(Writer& writer, std::int64_t from_s, std::int64_t seconds) {
    std::mt19937 random(static_cast<unsigned>(from_s));
    for (auto s = from_s; s < from_s + seconds; ++s) {
        for (int p = 0; p < 4; ++p)
            writer.record(good(p, s * 1000, 20.0 + 20 * p + 0.25 * static_cast<double>(random() % 6)));
        if (s % 10 == 9) REQUIRE(writer.flush(Span(5000)));
    }
}

std::int64_t raw_count(std::string const& path) {
    return number(path,
                  "SELECT (SELECT coalesce(sum(n),0) FROM packed WHERE kind=0) +"
                  " (SELECT count(*) FROM tail t, json_each(t.v) r, json_each(r.value) c WHERE c.key>1)");
}

}  // namespace

// field case D2
TEST_CASE("D2: packing and thinning need no room for temporary files") {
    Scratch dir;
    ShimVfs disk("no-tmp");
    disk.no_temporary_files();
    Told told;
    auto options = four_probes(dir / "l.db");
    options.vfs = disk.name(), options.seal_every = Span(600'000), options.keep_days = 1;
    {
        Writer writer(options, told.callbacks());
        writer.resume();
        // Three days, of which the first two are to be thinned.
        for (std::int64_t hour = 0; hour < 72; ++hour) {
            for (std::int64_t s = 0; s < 3600; s += 60)
                for (int p = 0; p < 4; ++p) writer.record(good(p, (hour * 3600 + s) * 1000 + 2000, 20.0 + p));
            REQUIRE(writer.flush(Span(5000)));
        }
    }
    CHECK(disk.failed() == 0);
    CHECK(told.troubles.empty());
    CHECK(raw_count(options.path) < 30 * 240);
    CHECK(raw_count(options.path) >= 24 * 240);
}

// field case D2
TEST_CASE("D2: house-keeping that fails is logged, and recording goes on") {
    Scratch dir;
    Told told;
    auto options = four_probes(dir / "l.db");
    options.seal_every = Span(60'000);
    {
        Writer writer(options, told.callbacks());
        writer.resume();
        record_four(writer, 2, 8);
        // From now on every sealing fails, as it would for want of room; a commit is small and still fits.
        Database other;
        REQUIRE(other.open(options.path, SQLITE_OPEN_READWRITE));
        other.run("CREATE TRIGGER no_room BEFORE INSERT ON packed BEGIN SELECT RAISE(FAIL, 'no room'); END");
        REQUIRE(other.ok());
        other.close();
        record_four(writer, 10, 300);
        CHECK_FALSE(writer.trouble());
    }
    CHECK(told.troubles.empty());
    REQUIRE(told.lines.size() == 1);  // and not one a commit
    CHECK_THAT(told.lines[0], INGLE_CONTAINS("no room"));
    CHECK(raw_count(options.path) == 308 * 4);
    CHECK(number(options.path, "SELECT count(*) FROM packed") == 0);
}

// field case D5
TEST_CASE("D5: SIGKILL after three hours at 5 s: less than a minute is lost, no alarm is") {
#if defined(__SANITIZE_THREAD__)
    return;  // a fork with threads is not supported there
#endif
    Scratch dir;
    auto const path = dir / "l.db";
    int ends[2];
    REQUIRE(pipe(ends) == 0);
    auto const child = fork();
    if (child == 0) {
        auto options = options_for(path);
        options.commit_every = Span(20);
        Writer writer(options, {});
        writer.resume();
        for (int i = 0; i < 2160; ++i) writer.record(good(0, 2000 + 5000 * i, 85));
        auto const ticket = writer.record(raised(1, 2000 + 5000 * 2160));
        while (writer.durable() < ticket) std::this_thread::sleep_for(std::chrono::milliseconds(1));
        for (int i = 2160; i < 2172; ++i) writer.record(good(0, 2000 + 5000 * i, 85));  // a minute of it
        if (write(ends[1], "k", 1) == 1) pause();
        _exit(1);
    }
    close(ends[1]);
    char done = 0;
    REQUIRE(read(ends[0], &done, 1) == 1);
    kill(child, SIGKILL);
    waitpid(child, nullptr, 0);
    close(ends[0]);
    CHECK(raw_count(path) >= 2160);
    CHECK(number(path, "SELECT count(*) FROM alarm_change") == 1);
}

// field case D6
TEST_CASE("D6: the power is cut 200 times while set-points are saved: the old ones or the new ones") {
    Scratch first, second;
    std::mt19937 random(17);
    std::int64_t oldest = 0, newest = 0, seen_new = 0;
    for (int cut = 0; cut < 200; ++cut) {
        auto const& here = cut % 2 ? second : first;
        auto const& next = cut % 2 ? first : second;
        ShimVfs disk("settings");
        disk.keep_images();
        {
            auto options = options_for(here / "l.db", "boot-" + std::to_string(cut));
            options.vfs = disk.name(), options.retry_every = Span(1);
            Writer writer(options, {});
            auto const resumed = writer.resume();
            if (cut > 0) {
                REQUIRE(resumed.recording);
                auto const low = resumed.memory.text("low"), high = resumed.memory.text("high");
                REQUIRE(low.has_value() == high.has_value());
                if (low) {
                    auto const at = std::stoll(*low);
                    CHECK(std::stoll(*high) == at + 10);
                    CHECK(at >= oldest);
                    CHECK(at <= newest);
                    seen_new += at > oldest;
                    oldest = at;
                } else {
                    CHECK(oldest == 0);
                }
            }
            disk.cut_power_at(1 + static_cast<std::int64_t>(random() % 12));
            while (!disk.is_cut()) {
                Memory memory;
                memory.put("low", ++newest);
                memory.put("high", newest + 10);
                writer.remember(std::move(memory));
                if (writer.flush(Span(20)) && !disk.is_cut()) oldest = newest;
            }
            writer.stop(Span(1));
        }
        for (auto const* file : {"l.db", "l.db-wal", "l.db-shm"}) std::filesystem::remove(next / file);
        disk.materialise(next.path(), static_cast<unsigned>(cut));
        REQUIRE(word(next / "l.db", "PRAGMA integrity_check") == "ok");
    }
    CHECK(seen_new > 0);  // some of what nobody had acknowledged was there all the same
}

// field case D7
TEST_CASE("D7: a reader that stays for six hours: the write-ahead file stays small and is used again") {
    Scratch dir;
    Told told;
    auto options = four_probes(dir / "l.db");
    options.look_every = Span(0);
    Writer writer(options, told.callbacks());
    writer.resume();
    record_four(writer, 2, 8);
    Database held;
    REQUIRE(held.open(options.path, SQLITE_OPEN_READONLY));
    held.run("BEGIN; SELECT count(*) FROM boot");
    REQUIRE(held.ok());
    record_four(writer, 10, 6 * 3600);
    auto const size = [&] { return std::filesystem::file_size(options.path + "-wal"); };
    auto const grown = size();
    INFO("write-ahead file after six hours: " << grown);
    CHECK(grown < 16u << 20);
    CHECK(told.count("logbook-held") == 0);  // that is for 50 MB
    held.run("COMMIT");
    record_four(writer, 10 + 6 * 3600, 4 * 3600);
    CHECK(size() < grown + 3 * 4120);  // it was overwritten from its start, once it was free
    CHECK_FALSE(writer.trouble());
}

// field case D8
TEST_CASE("D8: four probes at 1 s for an hour: at most 5 MB go to the card, in at most one sync each 10 s") {
    Scratch dir;
    ShimVfs disk("budget");
    auto options = four_probes(dir / "l.db");
    options.vfs = disk.name();
    Writer writer(options, {});
    writer.resume();
    record_four(writer, 2, 8);
    auto const before = disk.count();
    record_four(writer, 10, 3600);
    auto const after = disk.count();
    auto const blocks = (after.blocks - before.blocks) * 4096;
    INFO(after.bytes - before.bytes << " bytes, in blocks " << blocks);
    CHECK(blocks < 5'000'000);
    CHECK(after.syncs - before.syncs <= 360 + 6);
    // And an alarm does not wait for the ten seconds.
    auto const ticket = writer.record(raised(1, 3'700'000));
    auto const limit = std::chrono::steady_clock::now() + std::chrono::seconds(2);
    while (writer.durable() < ticket && std::chrono::steady_clock::now() < limit)
        std::this_thread::sleep_for(std::chrono::milliseconds(1));
    CHECK(writer.durable() >= ticket);
}

// field case D9
TEST_CASE("D9: a million rows are exported while recording goes on: nothing waits and nothing is lost") {
    Scratch dir;
    constexpr std::int64_t million = 1'000'000;
    auto options = options_for(dir / "l.db");
    options.most_readings = 2 * million;
    {
        Writer filler(options, {});
        filler.resume();
        for (std::int64_t s = 0; s < million; ++s) {
            filler.record(good(0, 2000 + s * 1000, 60 + 0.25 * static_cast<double>(s % 100)));
            if (s % 200'000 == 199'999) REQUIRE(filler.flush(Span(60'000)));
        }
        REQUIRE(filler.flush(Span(60'000)));
    }
    options.started = Instant(Span(2000 + million * 1000));
    options.commit_every = Span(20);
    Writer writer(options, {});
    writer.resume();
    std::atomic<bool> exported{false};
    std::int64_t rows = 0;
    std::string failure;
    std::thread reading([&] {
        Reader reader(options.path);
        constexpr std::int64_t piece = 3 * 3'600'000;
        for (std::int64_t at = 0; at < 2000 + million * 1000; at += piece) {
            Window const window{WallTime(Span(midnight + at)),
                                WallTime(Span(midnight + std::min(at + piece, 2000 + million * 1000)))};
            rows +=
                static_cast<std::int64_t>(reader.history({"stock", window, Span(0), false}).points.size());
        }
        failure = reader.failure();
        exported = true;
    });
    std::int64_t sampled = 0;
    auto slowest = std::chrono::steady_clock::duration::zero();
    do {
        auto const before = std::chrono::steady_clock::now();
        writer.record(good(1, 2000 + (million + sampled) * 1000, 40));
        slowest = std::max(slowest, std::chrono::steady_clock::now() - before);
        ++sampled;
        std::this_thread::sleep_for(std::chrono::milliseconds(1));
    } while (!exported);
    reading.join();
    REQUIRE(writer.flush(Span(5000)));
    CHECK(failure == "");
    CHECK(rows == million);
    CHECK(writer.counts().lost == 0);
    CHECK_FALSE(writer.trouble());
    CHECK(Reader(options.path).history({"goose-core", everything(), Span(0), false}).points.size() ==
          static_cast<std::size_t>(sampled));
    CHECK(slowest < std::chrono::seconds(1));  // the one who records never waits for the file
}

// field case D9
TEST_CASE("D9: another program holds the lock for 20 s: no reading is lost, and the queue empties after it") {
    Scratch dir;
    auto options = options_for(dir / "l.db");
    options.commit_every = Span(50), options.retry_every = Span(50), options.busy_ms = 200;
    Told told;
    Writer writer(options, told.callbacks());
    writer.resume();
    Database other;
    REQUIRE(other.open(options.path, SQLITE_OPEN_READWRITE));
    other.run("BEGIN IMMEDIATE");
    REQUIRE(other.ok());
    int const locked_ms = test::long_form() ? 20'000 : 2000;
    for (int i = 0; i < 100; ++i) {
        writer.record(good(0, 2000 + 1000 * i, 85));
        std::this_thread::sleep_for(std::chrono::milliseconds(locked_ms / 100));
    }
    CHECK(writer.counts().waiting == 100);
    other.run("ROLLBACK");
    REQUIRE(writer.flush(Span(5000)));
    CHECK(told.troubles.empty());
    CHECK(writer.counts().lost == 0);
    CHECK(raw_count(options.path) == 100);
}

TEST_CASE("a card that takes half a second for each sync delays nobody but the writer") {
    Scratch dir;
    ShimVfs disk("slow");
    auto options = options_for(dir / "l.db");
    options.vfs = disk.name();
    Told told;
    Writer writer(options, told.callbacks());
    writer.resume();
    disk.slow_syncs(std::chrono::milliseconds(500));
    auto slowest = std::chrono::steady_clock::duration::zero();
    for (int i = 0; i < 200; ++i) {
        auto const before = std::chrono::steady_clock::now();
        writer.record(good(0, 2000 + 1000 * i, 85));
        if (i % 50 == 0) writer.record(raised(i + 1, 2000 + 1000 * i));  // each wants a sync of its own
        slowest = std::max(slowest, std::chrono::steady_clock::now() - before);
        std::this_thread::sleep_for(std::chrono::milliseconds(2));
    }
    CHECK(slowest < std::chrono::milliseconds(250));
    CHECK_FALSE(writer.trouble());
    REQUIRE(writer.flush(Span(10'000)));
    disk.slow_syncs(std::chrono::milliseconds(0));
    CHECK(raw_count(options.path) == 200);
    CHECK(number(options.path, "SELECT count(*) FROM alarm_change") == 4);
    CHECK(told.troubles.empty());
}
