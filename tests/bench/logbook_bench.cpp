// What the logbook costs, side by side in one run with the plain design (one row and one commit a reading)
// and with the raw limit (one write-ahead frame a commit). Prints a table with every ratio, holds the goals
// against it, and ends with 1 if one is missed. Usage: logbook_bench [--long] [--dir DIR]
// --long: 60 days instead of 5, and a whole year at 1 Hz. --dir: a folder on a device of its own (a loop
// device will do): everything is really synced, and what counts is what the device was given.
#include <fcntl.h>
#include <unistd.h>

#include <algorithm>
#include <array>
#include <cmath>
#include <cstdio>
#include <filesystem>
#include <string>
#include <vector>

#include "daemon/logbook/reader.hpp"
#include "daemon/logbook/schema.hpp"
#include "daemon/logbook/store.hpp"
#include "tests/bench/logbook_scene.hpp"
#include "tests/unit/daemon/logbook/shim_vfs.hpp"

using namespace ingle;
using namespace ingle::logbook;
using namespace ingle::logbook::bench;
using ingle::logbook::testing::ShimVfs;

namespace {

// Readings as fast as they go in: an hour a transaction, sealed each hour, with the tail that a real run
// would write.
std::int64_t fill(std::string const& path, std::int64_t seconds, int every, double* took = nullptr) {
    auto const options = options_for(path, probes);
    Store store(options);
    Resumed resumed;
    store.open(resumed);
    store.database().run("PRAGMA synchronous=OFF");
    Scene scene(1);
    std::int64_t n = 0;
    for (std::int64_t s = 0; s < seconds; s += 3600) {
        for (int part = 0; part < 3600; part += 600) {
            auto const batch = batch_of(scene, s + part, 600, probes, every);
            n += static_cast<std::int64_t>(batch.readings.size());
            double const begin = wall_seconds();
            store.write(batch);
            if (took) *took += wall_seconds() - begin;
        }
        double const begin = wall_seconds();
        store.seal();
        if (took) *took += wall_seconds() - begin;
    }
    if (auto const failure = store.take_failure()) std::printf("failed: %s\n", failure->text.c_str());
    store.close();
    return n;
}

struct Cost {  // of one hour
    double bytes = 0, blocks = 0, syncs = 0, device = 0, cpu_us = 0;
};

// The first hours only warm up: a new write-ahead file grows until its first checkpoint, and is then written
// over for ever. That is how the daemon spends its life.
Cost logbook_cost(std::string const& dir, int count, int warm_s, int simulated_s, bool real) {
    ShimVfs vfs("bench-" + std::to_string(count));
    if (real) vfs.sync_for_real();
    auto options = options_for(dir + "/cost-" + std::to_string(count) + ".db", count, vfs.name());
    std::vector<std::vector<Recorded>> script;
    Scene scene(2);
    for (int s = 0; s < warm_s + simulated_s; s += 10) {
        auto& ten = script.emplace_back();
        for (int i = s; i < s + 10; ++i)
            for (int p = 0; p < count; ++p)
                if (double const c = scene.at(i, p % probes); !std::isnan(c)) {
                    Recorded r;
                    r.probe = p, r.at = Instant(Span(std::int64_t{1000} * i)), r.raw = c, r.celsius = c;
                    ten.push_back(r);
                }
    }
    Cost cost;
    double n = 0;
    {
        Writer writer(options, {});
        writer.resume();
        auto const play = [&](std::size_t from, std::size_t to) {
            for (auto i = from; i < to; ++i) {
                for (auto const& r : script[i]) writer.record(r);
                writer.flush(Span(10'000));
                n += static_cast<double>(script[i].size());
            }
        };
        auto const warm = static_cast<std::size_t>(warm_s / 10);
        play(0, warm);
        n = 0;
        auto const before = vfs.count();
        auto const device = real ? sectors_written(dir) : 0;
        double const cpu = cpu_seconds();
        play(warm, script.size());
        cost.cpu_us = (cpu_seconds() - cpu) / n * 1e6;
        auto const after = vfs.count();
        double const hours = simulated_s / 3600.0;
        cost.bytes = static_cast<double>(after.bytes - before.bytes) / hours;
        cost.blocks = static_cast<double>(after.blocks - before.blocks) * 4096 / hours;
        cost.syncs = static_cast<double>(after.syncs - before.syncs) / hours;
        if (real) cost.device = static_cast<double>(sectors_written(dir) - device) * 512 / hours;
    }
    return cost;
}

Cost naive_cost(std::string const& dir, int readings, bool real) {
    ShimVfs vfs("bench-naive");
    if (real) vfs.sync_for_real();
    Database db;
    db.open(dir + "/naive.db", SQLITE_OPEN_READWRITE | SQLITE_OPEN_CREATE, vfs.name());
    db.run(
        "PRAGMA journal_mode=DELETE; PRAGMA synchronous=FULL; CREATE TABLE readings(ts REAL, probe TEXT, "
        "value REAL)");
    Scene scene(2);
    auto const before = vfs.count();
    auto const device = real ? sectors_written(dir) : 0;
    double const cpu = cpu_seconds();
    for (int i = 0; i < readings; ++i) {
        auto const name = "probe-" + std::to_string(i % probes);
        db.prepared("INSERT INTO readings VALUES(?,?,?)")
            .with(1.79e9 + i / probes, name, scene.at(i / probes, i % probes))
            .run();
    }
    Cost cost;
    cost.cpu_us = (cpu_seconds() - cpu) / readings * 1e6;
    auto const after = vfs.count();
    double const hours = readings / hour_readings;
    cost.bytes = static_cast<double>(after.bytes - before.bytes) / hours;
    cost.blocks = static_cast<double>(after.blocks - before.blocks) * 4096 / hours;
    cost.syncs = static_cast<double>(after.syncs - before.syncs) / hours;
    if (real) cost.device = static_cast<double>(sectors_written(dir) - device) * 512 / hours;
    return cost;
}

// The raw limit: one write-ahead frame of a 4 KiB page and one sync for each commit, over and over in a file
// of fixed size.
Cost frame_cost(std::string const& dir, bool real) {
    constexpr int frame = 4120, frames = 1000, commits = 360;
    std::string const name = dir + "/frames";
    int const file = open(name.c_str(), O_RDWR | O_CREAT | O_CLOEXEC, 0600);
    std::string const bytes(frame, 'f');
    auto const put = [&](int i) {
        return pwrite(file, bytes.data(), frame, std::int64_t{i % frames} * frame);
    };
    for (int i = 0; i < frames; ++i) put(i);
    fsync(file);
    auto const device = real ? sectors_written(dir) : 0;
    for (int i = 0; i < commits; ++i) {
        put(i);
        if (real) fdatasync(file);
    }
    Cost cost;
    cost.bytes = double{frame} * commits, cost.syncs = commits;
    for (int i = 0; i < commits; ++i)
        cost.blocks += 4096 * static_cast<double>((std::int64_t{i} * frame + frame - 1) / 4096 -
                                                  std::int64_t{i} * frame / 4096 + 1);
    if (real) cost.device = static_cast<double>(sectors_written(dir) - device) * 512;
    close(file);
    return cost;
}

template <class Body>
double best_ms(int times, Body body) {
    double best = 1e9;
    for (int i = 0; i < times; ++i) {
        double const begin = wall_seconds();
        body();
        best = std::min(best, (wall_seconds() - begin) * 1000);
    }
    return best;
}

struct Table {
    int missed = 0;

    // Beside the plain design (0 = not comparable) and the raw limit (0 = none).
    void line(char const* what, double plain, double ours, char const* unit, double limit = 0,
              bool less_is_better = true) {
        std::printf("%-36s", what);
        plain > 0 ? std::printf(" %12.3f", plain) : std::printf(" %12s", "-");
        std::printf(" %10.3f %-10s", ours, unit);
        plain > 0 ? std::printf(" %10.1fx", less_is_better ? plain / ours : ours / plain)
                  : std::printf(" %11s", "");
        if (limit > 0) std::printf(" %7.2fx", ours / limit);
        std::printf("\n");
    }
    void goal(char const* what, double value, double bound, bool at_most = true) {
        bool const met = at_most ? value <= bound : value >= bound;
        missed += !met;
        std::printf("    goal: %s %s %g: %.3f %s\n", what, at_most ? "at most" : "at least", bound, value,
                    met ? "met" : "MISSED");
    }
};

}  // namespace

int main(int argc, char** argv) {
    bool is_long = false;
    std::string base = std::filesystem::temp_directory_path().string();
    bool real = false;
    for (int i = 1; i < argc; ++i) {
        std::string const word = argv[i];
        if (word == "--long") is_long = true;
        if (word == "--dir" && i + 1 < argc) base = argv[++i], real = true;
    }
    std::string pattern = base + "/logbook-bench-XXXXXX";
    std::string const dir = mkdtemp(pattern.data());

    Table table;
    auto const naive = naive_cost(dir, real ? 2880 : 5760, real);
    auto const frame = frame_cost(dir, real);
    auto const cost = logbook_cost(dir, probes, 4 * 3600, is_long ? 6 * 3600 : 2 * 3600, real);
    std::printf(
        "8 probes at 1 Hz, 0.25 K steps, commit each 10 s with a full sync. Plain: one row and one commit a\n"
        "reading, rollback journal. Limit: one 4120-byte write-ahead frame and one sync a commit.\n%-36s "
        "%12s %10s %-10s %11s %8s\n",
        "", "plain", "logbook", "", "ratio", "of limit");
    table.line("bytes given to the OS", naive.bytes / 1e6, cost.bytes / 1e6, "MB/h", frame.bytes / 1e6);
    table.line("4 KiB blocks to be written", naive.blocks / 1e6, cost.blocks / 1e6, "MB/h",
               frame.blocks / 1e6);
    if (real)
        table.line("written to the device", naive.device / 1e6, cost.device / 1e6, "MB/h",
                   frame.device / 1e6);
    table.line("syncs", naive.syncs, cost.syncs, "per h", frame.syncs);
    table.line("CPU, whole path", naive.cpu_us, cost.cpu_us, "us/reading");
    if (real) {
        table.goal("bytes to the device, plain over logbook", naive.device / cost.device, 300, false);
        table.goal("bytes to the device, of one frame a commit", cost.device / frame.device, 1.5);
    } else {
        table.goal("bytes, plain over logbook", naive.bytes / cost.bytes, 300, false);
        table.goal("bytes, of one frame a commit", cost.bytes / frame.bytes, 1.5);
        table.goal("CPU, us a reading", cost.cpu_us, 1);
    }

    auto const days = is_long ? 60 : 5;
    auto const path = dir + "/days.db";
    double took = 0;
    auto const n = fill(path, days * 86'400LL, 1, &took);
    auto const size = static_cast<double>(std::filesystem::file_size(path));
    {
        Database db;
        db.open(path, SQLITE_OPEN_READONLY);
        std::printf(
            "  (of it: codes %.3f, roll-ups %.3f a reading)\n",
            static_cast<double>(db.number("SELECT sum(length(codes)) FROM packed")) / static_cast<double>(n),
            static_cast<double>(db.number(
                "SELECT sum(pgsize) FROM dbstat WHERE name IN ('roll','minutes','minutes_by_time')")) /
                static_cast<double>(n));
    }

    // The plain table for the same questions: two days of it.
    auto const plain_path = dir + "/plain.db";
    Database plain;
    plain.open(plain_path, SQLITE_OPEN_READWRITE | SQLITE_OPEN_CREATE);
    plain.run("PRAGMA synchronous=OFF; CREATE TABLE readings(ts REAL, probe TEXT, value REAL); BEGIN");
    double const plain_begin = wall_seconds();
    std::int64_t plain_n = 0;
    {
        Scene scene(1);
        std::array<std::string, probes> names;
        for (int p = 0; p < probes; ++p) names[static_cast<std::size_t>(p)] = "probe-" + std::to_string(p);
        auto& row = plain.prepared("INSERT INTO readings VALUES(?,?,?)");
        for (std::int64_t s = 0; s < 2 * 86'400; ++s)
            for (int p = 0; p < probes; ++p)
                row.with(1.79e9 + static_cast<double>(s), names[static_cast<std::size_t>(p)], scene.at(s, p))
                    .run(),
                    ++plain_n;
    }
    plain.run("COMMIT");
    double const plain_rate = static_cast<double>(plain_n) / (wall_seconds() - plain_begin) / 1e6;
    auto const plain_size =
        static_cast<double>(std::filesystem::file_size(plain_path)) / static_cast<double>(plain_n);
    table.line("size on disk, all included", plain_size, size / static_cast<double>(n), "B/reading");
    table.goal("bytes a reading", size / static_cast<double>(n), 1.3);
    table.line("bulk ingest (plain: one transaction)", plain_rate, static_cast<double>(n) / took / 1e6, "M/s",
               0, false);

    Reader reader(path);
    auto const end = WallTime(Span(1'790'000'000'000 + days * 86'400'000LL));
    auto const window = [&](double hours) { return Window{end - from_seconds(hours * 3600), end}; };
    std::size_t points = 0;
    double const plain_12 = best_ms(3, [&] {
        Statement q(
            plain,
            "SELECT ts, value FROM readings WHERE probe='probe-0' AND ts>=1790129600 AND ts<1790172800");
        while (q.step()) points += q.real(1) > 0;
    });
    double const ours_12 = best_ms(9, [&] {
        points = reader.history({"probe-0", window(12), Span(0), false}).points.size();
    });
    table.line("last 12 h of a probe, each reading", plain_12, ours_12, "ms");
    table.goal("ms", ours_12, 2);
    table.goal("readings found (43 200 less the missing)", static_cast<double>(points), 43'000, false);
    double const plain_14 = best_ms(3, [&] {
        Statement q(
            plain,
            "SELECT min(value), max(value), sum(value BETWEEN 90 AND 95) FROM readings WHERE probe='probe-0'"
            " AND ts>=1790122400 AND ts<1790172800");
        while (q.step()) points += q.real(1) > 0;
    });
    table.line("time in band of a 14 h cook", plain_14,
               best_ms(9, [&] { reader.band_time("probe-0", window(14), 90, 95); }), "ms");
    auto const chart = [&](Reader& from, Window w) {
        std::vector<HistoryQuery> all;
        for (int p = 0; p < probes; ++p)
            all.push_back({"probe-" + std::to_string(p), w, Span((w.to - w.from) / 1000), false});
        std::size_t total = 0;
        for (auto const& h : from.history(all)) total += h.points.size();
        return total;
    };
    double const plain_chart = best_ms(1, [&] {
        Statement q(plain,
                    "SELECT probe, CAST(ts/172.8 AS INTEGER), min(value), max(value), avg(value) FROM "
                    "readings GROUP BY 1,2");
        while (q.step()) points += q.real(2) > 0;
    });
    table.line("2 days of 8 probes, 1000 points", plain_chart, best_ms(9, [&] { chart(reader, window(48)); }),
               "ms");

    // A year has the same roll-up rows whether a probe is read each second or each minute.
    auto const year_path = dir + "/year.db";
    fill(year_path, 365 * 86'400LL, is_long ? 1 : 60);
    Reader year(year_path);
    Window const whole{WallTime(Span(1'790'000'000'000)),
                       WallTime(Span(1'790'000'000'000 + 365 * 86'400'000LL))};
    auto const last = [&](Reader& from, double of_days) {
        Window const w{whole.to - from_seconds(of_days * 86'400), whole.to};
        return best_ms(9, [&] { chart(from, w); });
    };
    std::array<double, 5> const spans{7, 30, 91, 182, 365};
    std::array<double, 5> took_ms{};
    for (std::size_t i = 0; i < spans.size(); ++i) took_ms[i] = last(year, spans[i]);
    table.line("a year of 8 probes, 1000 points", plain_chart * 365 / 2, took_ms[4], "ms");
    std::printf(
        "  (plain: extrapolated from 2 days; the last 7, 30, 91, 182 days: %.2f, %.2f, %.2f, %.2f ms)\n",
        took_ms[0], took_ms[1], took_ms[2], took_ms[3]);
    table.goal("ms, warm", took_ms[4], 10);
    table.goal("a year against the dearest shorter span (no growth with the span)",
               took_ms[4] / *std::max_element(took_ms.begin(), took_ms.end() - 1), 2);

    auto const thousand = logbook_cost(dir, 1000, 300, is_long ? 3600 : 600, false);
    table.line("1000 probes: bytes to the OS", naive.bytes / probes * 1e3 / 1e6, thousand.bytes / 1e6,
               "MB/h");
    table.line("1000 probes: CPU", naive.cpu_us, thousand.cpu_us, "us/reading");
    if (!real) table.goal("CPU, us a reading", thousand.cpu_us, 1);
    std::error_code ignored;
    std::filesystem::remove_all(dir, ignored);
    std::printf(table.missed == 0 ? "every goal is met\n" : "%d goals are MISSED\n", table.missed);
    return table.missed == 0 ? 0 : 1;
}
