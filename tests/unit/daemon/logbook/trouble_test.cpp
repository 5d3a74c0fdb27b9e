// Field-cases D1, D3, D4, D5, D6, D7, D9 as far as they concern the file, and what no cook reports: power
// cuts at any write, and the n-th call into the file system failing, for every n.
#include <sys/wait.h>
#include <unistd.h>

#include <atomic>
#include <csignal>
#include <fstream>
#include <mutex>
#include <random>
#include <thread>

#include "shim_vfs.hpp"
#include "support.hpp"
#include "tests/support/catch.hpp"
#include "told.hpp"

using namespace ingle;
using namespace ingle::logbook;
using namespace ingle::logbook::testing;

namespace {

// The k-th thing that the tests record: nine readings, then an alarm and two keys of memory that belong
// together.
std::uint64_t record_nth(Writer& writer, std::int64_t k) {
    if (k % 10 != 9) return writer.record(good(0, 2000 + k * 1000, 20 + 0.25 * static_cast<double>(k % 200)));
    Memory memory;
    memory.put("low", k);
    memory.put("high", k);
    writer.remember(std::move(memory));
    return writer.record(raised(k, 2000 + k * 1000));
}

// The first `n` things must be there, nothing twice, nothing that was never recorded, everything with its
// value. Returns how many there are in a row from the start.
std::int64_t check_file(std::string const& path, std::int64_t acknowledged, std::int64_t recorded) {
    CHECK(word(path, "PRAGMA integrity_check") == "ok");
    Reader reader(path);
    auto const points = reader.history({"stock", everything(), Span(0), false}).points;
    CHECK(reader.failure() == "");
    std::set<std::int64_t> found;
    for (auto const& p : points) {
        auto const k = (p.at.at.time_since_epoch().count() - 2000) / 1000;
        if (p.mean != 20 + 0.25 * static_cast<double>(k % 200) || !found.insert(k).second)
            FAIL_CHECK("reading " << k);
    }
    for (auto const& a : reader.alarms(everything()))
        if (!found.insert(a.alarm).second) FAIL_CHECK("alarm twice " << a.alarm);
    std::int64_t k = 0;
    while (found.count(k)) ++k;
    CHECK(static_cast<std::int64_t>(found.size()) == k);  // no hole
    CHECK(k >= acknowledged);
    CHECK(k <= recorded);
    CHECK(number(path, "SELECT count(DISTINCT value)<=1 FROM memory WHERE key IN ('low','high')") == 1);
    CHECK(number(path,
                 "SELECT (SELECT coalesce(sum(n),0) FROM packed WHERE kind=0)="
                 "(SELECT coalesce(sum(n),0) FROM raw_minute)") == 1);
    return k;
}

}  // namespace

// field case D5
TEST_CASE("D5: killed with SIGKILL at any moment, nothing acknowledged is lost", "[kill]") {
#if defined(__SANITIZE_THREAD__)
    return;  // a fork with threads is not supported there
#endif
    Scratch dir;
    auto const path = dir / "logbook.db";
    auto const* wish = std::getenv("INGLE_KILLS");
    int const kills = wish ? std::atoi(wish) : 100;
    std::mt19937 random(7);
    std::int64_t start = 0, most_acknowledged = 0;
    for (int kill_number = 0; kill_number < kills; ++kill_number) {
        int pipe_ends[2];
        REQUIRE(pipe(pipe_ends) == 0);
        auto const child = fork();
        REQUIRE(child >= 0);
        if (child == 0) {
            auto options = options_for(path);
            options.commit_every = Span(1), options.seal_every = Span(60'000), options.retry_every = Span(1);
            Callbacks callbacks;
            std::mutex mutex;
            std::map<std::uint64_t, std::int64_t> of_ticket;
            std::atomic<std::int64_t> told{-1};
            callbacks.durable = [&](std::uint64_t ticket) {
                std::lock_guard const lock(mutex);
                auto upto = of_ticket.upper_bound(ticket);
                if (upto == of_ticket.begin()) return;
                std::int64_t const k = (--upto)->second;
                if (k > told && write(pipe_ends[1], &k, sizeof k) == sizeof k) told = k;
            };
            Writer writer(options, callbacks);
            writer.resume();
            for (auto k = start;; ++k) {
                auto const ticket = record_nth(writer, k);
                {
                    std::lock_guard const lock(mutex);
                    of_ticket[ticket] = k;
                }
                if (k % 40 == 0) std::this_thread::sleep_for(std::chrono::microseconds(300));
            }
        }
        close(pipe_ends[1]);
        std::int64_t acknowledged = start - 1, k = 0;
        // Sometimes while it opens the file, mostly in the middle of the work.
        if (kill_number % 4 != 0 && read(pipe_ends[0], &k, sizeof k) == sizeof k) acknowledged = k;
        // Some live long enough to seal some minutes, however slow the machine is.
        if (kill_number % 10 == 5)
            while (acknowledged < start + 300 && read(pipe_ends[0], &k, sizeof k) == sizeof k)
                acknowledged = k;
        std::this_thread::sleep_for(std::chrono::microseconds(random() % 10'000));
        ::kill(child, SIGKILL);
        waitpid(child, nullptr, 0);
        while (read(pipe_ends[0], &k, sizeof k) == sizeof k) acknowledged = k;
        close(pipe_ends[0]);
        most_acknowledged = std::max(most_acknowledged, acknowledged);
        if (access(path.c_str(), F_OK) != 0) continue;
        if (kill_number % 10 == 9 || kill_number + 1 == kills) {
            start = check_file(path, acknowledged + 1, INT64_MAX);
        } else {  // the whole check grows with the file: in between only where to go on
            auto const readings = Reader(path).last("stock");
            auto const alarm = number(path, "SELECT coalesce(max(alarm),-1) FROM alarm_change");
            auto const newest = readings ? (readings->at.at.time_since_epoch().count() - 2000) / 1000 : -1;
            start = std::max(newest, alarm) + 1;
            CHECK(start > acknowledged);
        }
    }
    CHECK(most_acknowledged > kills);                        // the kills did hit a working writer
    CHECK(number(path, "SELECT count(*) FROM packed") > 0);  // and some of them after a sealing
}

TEST_CASE("the power is cut at any write: nothing acknowledged is lost, the file is sound") {
    auto const* wish = std::getenv("INGLE_CUTS");
    int const cuts = wish ? std::atoi(wish) : 100;
    std::mt19937 random(11);
    for (int n = 0; n < cuts; ++n) {
        Scratch dir, after;
        auto const path = dir / "logbook.db";
        ShimVfs vfs("cut-" + std::to_string(n));
        vfs.keep_images();
        vfs.cut_power_at(1 + static_cast<std::int64_t>(random() % 400));
        std::int64_t acknowledged = 0, recorded = 0;
        {
            auto options = options_for(path);
            options.vfs = vfs.name(), options.seal_every = Span(100'000), options.retry_every = Span(1);
            Writer writer(options, {});
            writer.resume();
            for (; recorded < 600 && !vfs.is_cut(); ++recorded) {
                auto const before = recorded;
                record_nth(writer, recorded);
                if (random() % 20 == 0 && writer.flush(Span(20)) && !vfs.is_cut()) acknowledged = before + 1;
            }
            vfs.cut_now();
            writer.stop(Span(1));
        }
        vfs.materialise(after.path(), static_cast<unsigned>(n));
        auto const survivor = after / "logbook.db";
        if (access(survivor.c_str(), F_OK) != 0) {
            CHECK(acknowledged == 0);
            continue;
        }
        Told told;
        {
            auto options = options_for(survivor, "boot-b");
            Writer writer(options, told.callbacks());
            auto const resumed = writer.resume();
            CHECK(resumed.recording);
            CHECK(resumed.memory.text("low") == resumed.memory.text("high"));
        }
        CHECK(told.count("logbook-damaged") == 0);
        check_file(survivor, acknowledged, recorded);
    }
}

TEST_CASE("whichever call into the file system fails once: everything is recorded in the end") {
    std::int64_t n = 1, hit = 0;
    for (;; ++n) {
        Scratch dir;
        auto const path = dir / "logbook.db";
        ShimVfs vfs("nth-" + std::to_string(n));
        vfs.fail(ShimVfs::Fault::io_error, n);
        {
            auto options = options_for(path);
            options.vfs = vfs.name(), options.seal_every = Span(30'000), options.retry_every = Span(1);
            Writer writer(options, {});
            writer.resume();
            for (std::int64_t k = 0; k < 60; ++k) {
                record_nth(writer, k);
                if (k % 20 == 19) REQUIRE(writer.flush(Span(20'000)));
            }
            REQUIRE(writer.flush(Span(20'000)));
        }
        if (vfs.failed() == 0) break;
        ++hit;
        INFO("call " << n);
        CHECK(check_file(path, 60, 60) == 60);
    }
    CHECK(hit > 50);  // the failures did reach the work
}

TEST_CASE("one entry that the file refuses takes nothing else with it") {
    Scratch dir;
    auto const path = dir / "logbook.db";
    Told told;
    {
        auto options = options_for(path);
        options.probes[0].calibration = {{{80}, {82}}};
        Writer writer(options, told.callbacks());
        writer.resume();
        Database other;
        REQUIRE(other.open(path, SQLITE_OPEN_READWRITE));
        other.run("CREATE TRIGGER refused BEFORE INSERT ON alarm_change BEGIN SELECT RAISE(FAIL, 'no'); END");
        REQUIRE(other.ok());
        // Whatever was stored beside it and is rolled back with it must go in after all.
        Memory memory;
        memory.put("low", std::int64_t{1});
        writer.record(good(0, 2000, 85));
        writer.remember(std::move(memory));
        writer.record(raised(1, 2000));
        REQUIRE(writer.flush(Span(5000)));
        writer.record(good(0, 3000, 85));
        REQUIRE(writer.flush(Span(5000)));
        CHECK_FALSE(writer.trouble());
    }
    CHECK(told.count("not-recorded") == 1);
    CHECK(number(path, "SELECT count(*) FROM alarm_change") == 0);
    CHECK(word(path, "SELECT value FROM memory WHERE key='low'") == "1");
    auto const points = Reader(path).history({"stock", everything(), Span(0), false}).points;
    REQUIRE(points.size() == 2);
    for (auto const& p : points) CHECK(p.mean == 87);
}

// field cases D1, D3
TEST_CASE("D1, D3: a full or read-only disk is told once, and what waited is written afterwards") {
    auto const fault = GENERATE(ShimVfs::Fault::full, ShimVfs::Fault::read_only, ShimVfs::Fault::io_error);
    auto const bound = GENERATE(std::size_t{1'000'000}, std::size_t{50});
    constexpr int away_s = 20 * 60;  // "freed 20 min later"
    Scratch dir;
    auto const path = dir / "logbook.db";
    ShimVfs vfs("full");
    Told told;
    {
        auto options = options_for(path);
        options.vfs = vfs.name(), options.retry_every = Span(1), options.most_readings = bound;
        Writer writer(options, told.callbacks());
        writer.resume();
        for (int i = 0; i < 30; ++i) writer.record(good(0, 2000 + 1000 * i, 85));
        REQUIRE(writer.flush(Span(5000)));
        vfs.fail(fault, 1, INT64_MAX);
        for (int i = 30; i < 30 + away_s; ++i) writer.record(good(0, 2000 + 1000 * i, 85));
        auto const alarm = writer.record(raised(1, 1'232'000));
        CHECK_FALSE(writer.flush(Span(50)));
        CHECK(writer.durable() < alarm);
        REQUIRE(writer.trouble());
        CHECK_THAT(writer.trouble()->text, INGLE_CONTAINS("logbook.db"));
        CHECK(writer.counts().waiting == std::min<std::size_t>(bound, away_s));
        vfs.fail(ShimVfs::Fault::none, 0);
        REQUIRE(writer.flush(Span(5000)));
        CHECK_FALSE(writer.trouble());
    }
    REQUIRE(told.troubles.size() == 1);
    REQUIRE(told.recoveries.size() == 1);
    CHECK(told.lines.size() <= 3);  // not one a try
    auto const& recovered = told.recoveries[0];
    auto const points = Reader(path).history({"stock", everything(), Span(0), false}).points;
    if (bound > away_s) {
        CHECK(recovered.lost == 0);
        CHECK(points.size() == 30 + away_s);
    } else {  // all but the newest 50, to the second
        CHECK(recovered.lost == away_s - 50);
        REQUIRE(recovered.span);
        CHECK(recovered.span->first == Instant(Span(32'000)));
        CHECK(recovered.span->second == Instant(Span(1'181'000)));
        CHECK(points.size() == 80);
        CHECK_THAT(recovered.text, INGLE_CONTAINS("1150 readings over 1149 s were lost"));
    }
    CHECK(Reader(path).alarms(everything()).size() == 1);
}
