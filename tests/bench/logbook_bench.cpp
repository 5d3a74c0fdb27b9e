// What the logbook costs, side by side in one run with the plain design (one row and one commit a reading)
// and with the raw limit (one block or one WAL frame a commit). Prints a table. Usage: logbook_bench [--long]
// [--dir DIR]
// --long: 60 days instead of 5, and a whole year at 1 Hz. --dir: on a device of its own, sectors written are
// shown, too.
#include <sys/stat.h>
#include <sys/sysmacros.h>
#include <time.h>
#include <unistd.h>

#include <array>
#include <chrono>
#include <cmath>
#include <cstdio>
#include <filesystem>
#include <fstream>
#include <random>
#include <string>
#include <vector>

#include "daemon/logbook/logbook.hpp"
#include "daemon/logbook/pack.hpp"
#include "daemon/logbook/reader.hpp"
#include "daemon/logbook/schema.hpp"
#include "daemon/logbook/store.hpp"
#include "tests/unit/daemon/logbook/shim_vfs.hpp"

using namespace ingle;
using namespace ingle::logbook;
using ingle::logbook::testing::ShimVfs;

namespace {

constexpr int probes = 8;
constexpr double hour_readings = 3600.0 * probes;

double cpu_seconds() {
    timespec t{};
    clock_gettime(CLOCK_PROCESS_CPUTIME_ID, &t);
    return static_cast<double>(t.tv_sec) + static_cast<double>(t.tv_nsec) * 1e-9;
}
double wall_seconds() {
    return std::chrono::duration<double>(std::chrono::steady_clock::now().time_since_epoch()).count();
}

// Two hot chambers with control swing and door openings, four foods with a plateau, a fridge, a room. Noise
// of 0.1 to 0.3 K, 0.25 K steps, 1 reading in 870 missing.
class Scene {
public:
    explicit Scene(unsigned seed) : random_(seed) {}
    // NaN = missing
    double at(std::int64_t second, int probe) {
        auto const t = static_cast<double>(second);
        double c = 21 + 2 * std::sin(t / 86400 * 6.283);
        double noise = 0.10;
        if (probe < 2) {
            double const since_door = std::fmod(t + 900.0 * probe, 5400);
            c = (probe == 0 ? 93 : 110) + 2.5 * std::sin(t / 600) - 35 * std::exp(-since_door / 400);
            noise = 0.3;
        } else if (probe < 6) {
            double const x = std::fmod(t + 9000.0 * probe, 36000) / 36000;
            c = x < 0.5 ? 5 + 124 * x : x < 0.75 ? 67 + 6 * (x - 0.5) : 68.5 + 96 * (x - 0.75);
            noise = 0.15;
        } else if (probe == 6) {
            c = 3.5 + 0.8 * std::sin(t / 400);
            noise = 0.15;
        }
        if (random_() % 870 == 0) return NAN;
        double n = 0;  // near enough to a normal distribution
        auto const bits = random_();
        for (unsigned i = 0; i < 4; ++i) n += static_cast<double>(bits >> 8 * i & 255U) / 255.0 - 0.5;
        return std::round((c + noise * n * 1.73) * 4) / 4;
    }

private:
    std::mt19937 random_;
};

WriterOptions options_for(std::string path, int count, std::string vfs = "") {
    WriterOptions o;
    o.path = std::move(path), o.boot_id = "bench", o.clock = {1'790'000'000'000, true};
    for (int p = 0; p < count; ++p) o.probes.push_back({"probe-" + std::to_string(p), "simulated", "", {}});
    o.vfs = std::move(vfs);
    return o;
}

Batch batch_of(Scene& scene, std::int64_t second, int seconds, int count, int every = 1) {
    Batch batch;
    for (int s = 0; s < seconds; s += every)
        for (int p = 0; p < count; ++p) {
            double const c = scene.at(second + s, p % probes);
            if (std::isnan(c)) continue;
            ReadingItem item;
            item.at = (second + s) * 1000, item.slot = static_cast<std::uint16_t>(p),
            item.units = *to_units(c);
            batch.readings.push_back(item);
        }
    return batch;
}

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

std::int64_t sectors_written(std::string const& dir) {
    struct stat s {};
    if (stat(dir.c_str(), &s) != 0) return -1;
    sync();
    std::ifstream in("/sys/dev/block/" + std::to_string(major(s.st_dev)) + ":" +
                     std::to_string(minor(s.st_dev)) + "/stat");
    std::int64_t field = -1;
    for (int i = 0; i < 7; ++i) in >> field;
    return in ? field : -1;
}

struct Cost {  // of one hour
    double bytes = 0, blocks = 0, syncs = 0, device = 0, cpu_us = 0;
};

Cost logbook_cost(std::string const& dir, int count, int simulated_s, bool real) {
    ShimVfs vfs("bench-" + std::to_string(count));
    if (real) vfs.sync_for_real();
    auto options = options_for(dir + "/cost-" + std::to_string(count) + ".db", count, vfs.name());
    std::vector<std::vector<Recorded>> script;
    Scene scene(2);
    for (int s = 0; s < simulated_s; s += 10) {
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
        writer.flush(Span(10'000));
        auto const before = vfs.count();
        auto const device = real ? sectors_written(dir) : 0;
        double const cpu = cpu_seconds();
        for (auto const& ten : script) {
            for (auto const& r : ten) writer.record(r);
            writer.flush(Span(10'000));
            n += static_cast<double>(ten.size());
        }
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

void line(char const* what, double plain, double ours, char const* unit, double limit, char const* limit_is,
          double goal, bool at_most = true) {
    std::printf("%-34s", what);
    plain > 0 ? std::printf(" %12.3f", plain) : std::printf(" %12s", "-");
    std::printf(" %12.3f %-10s", ours, unit);
    plain > 0 ? std::printf(" %9.1fx", at_most ? plain / ours : ours / plain) : std::printf(" %10s", "");
    limit > 0 ? std::printf(" %6.2fx %-14s", ours / limit, limit_is) : std::printf(" %7s %-14s", "", "");
    if (goal > 0)
        std::printf(" goal %g %s", goal, (at_most ? ours <= goal : ours >= goal) ? "met" : "MISSED");
    std::printf("\n");
}

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

    auto const naive = naive_cost(dir, real ? 2880 : 5760, real);
    auto const cost = logbook_cost(dir, probes, is_long ? 21'600 : 7200, real);
    std::printf(
        "8 probes at 1 Hz, 0.25 K steps, commit each 10 s with a full sync     plain: one row and commit a "
        "reading\n");
    std::printf("%-34s %12s %12s %-10s %10s %-22s\n", "", "plain", "logbook", "", "ratio",
                "against the limit");
    line("bytes given to the OS", naive.bytes / 1e6, cost.bytes / 1e6, "MB/h", 360 * 4120 / 1e6,
         "WAL frame each", 0);
    line("4 KiB blocks to be written", naive.blocks / 1e6, cost.blocks / 1e6, "MB/h", 360 * 8192 / 1e6,
         "WAL frame each", 0);
    if (real)
        line("written to the device", naive.device / 1e6, cost.device / 1e6, "MB/h", 360 * 8192 / 1e6,
             "WAL frame each", 0);
    line("syncs", naive.syncs, cost.syncs, "per h", 360, "one a commit", 0);
    line("CPU, whole path", naive.cpu_us, cost.cpu_us, "us/reading", 0, "", 1);

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
    line("size on disk, all included", plain_size, size / static_cast<double>(n), "B/reading", 0, "", 1.3);
    line("bulk ingest (plain: one transaction)", plain_rate, static_cast<double>(n) / took / 1e6, "M/s", 0,
         "", 0, false);

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
    line("last 12 h of a probe, each reading", plain_12,
         best_ms(9,
                 [&] {
                     points = reader.history({"probe-0", window(12), Span(0), false}).points.size();
                 }),
         "ms", 0, "", 2);
    if (points < 43'000) std::printf("WRONG: only %zu points\n", points);
    double const plain_14 = best_ms(3, [&] {
        Statement q(
            plain,
            "SELECT min(value), max(value), sum(value BETWEEN 90 AND 95) FROM readings WHERE probe='probe-0'"
            " AND ts>=1790122400 AND ts<1790172800");
        while (q.step()) points += q.real(1) > 0;
    });
    line("time in band of a 14 h cook", plain_14,
         best_ms(9, [&] { reader.band_time("probe-0", window(14), 90, 95); }), "ms", 0, "", 0);
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
    line("2 days of 8 probes, 1000 points", plain_chart, best_ms(9, [&] { chart(reader, window(48)); }), "ms",
         0, "", 0);
    line(("  " + std::to_string(days) + " days").c_str(), 0,
         best_ms(9, [&] { chart(reader, window(24.0 * days)); }), "ms", 0, "", 0);

    // A year has the same roll-up rows whether a probe is read each second or each minute.
    auto const year_path = dir + "/year.db";
    fill(year_path, 365 * 86'400LL, is_long ? 1 : 60);
    Reader year(year_path);
    Window const whole{WallTime(Span(1'790'000'000'000)),
                       WallTime(Span(1'790'000'000'000 + 365 * 86'400'000LL))};
    double const cold = best_ms(1, [&] { Reader(year_path).probes(); });
    line("a year of 8 probes, 1000 points", plain_chart * 365 / 2, best_ms(9, [&] { chart(year, whole); }),
         "ms", 0, "", 10);
    std::printf("  (plain: extrapolated from 2 days; opening the file and listing the probes: %.2f ms)\n",
                cold);

    auto const thousand = logbook_cost(dir, 1000, is_long ? 1800 : 300, false);
    line("1000 probes: bytes to the OS", 0, thousand.bytes / 1e6, "MB/h", 0, "", 0);
    line("1000 probes: CPU", naive.cpu_us, thousand.cpu_us, "us/reading", 0, "", 1);
    std::error_code ignored;
    std::filesystem::remove_all(dir, ignored);
}
