// What the logbook's bench measures on, and with: a kitchen's readings, the clocks, the device's own counter.
#pragma once

#include <sys/stat.h>
#include <sys/sysmacros.h>
#include <time.h>
#include <unistd.h>

#include <chrono>
#include <cmath>
#include <fstream>
#include <random>
#include <string>
#include <utility>

#include "daemon/logbook/batch.hpp"
#include "daemon/logbook/logbook.hpp"
#include "daemon/logbook/pack.hpp"

namespace ingle::logbook::bench {

constexpr int probes = 8;
constexpr double hour_readings = 3600.0 * probes;

inline double cpu_seconds() {
    timespec t{};
    clock_gettime(CLOCK_PROCESS_CPUTIME_ID, &t);
    return static_cast<double>(t.tv_sec) + static_cast<double>(t.tv_nsec) * 1e-9;
}
inline double wall_seconds() {
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

inline WriterOptions options_for(std::string path, int count, std::string vfs = "") {
    WriterOptions o;
    o.path = std::move(path), o.boot_id = "bench", o.clock = {1'790'000'000'000, true};
    for (int p = 0; p < count; ++p) o.probes.push_back({"probe-" + std::to_string(p), "simulated", "", {}});
    o.vfs = std::move(vfs);
    return o;
}

inline Batch batch_of(Scene& scene, std::int64_t second, int seconds, int count, int every = 1) {
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

// Of the device that `dir` is on, in 512 bytes since it was plugged in; -1 = not known.
inline std::int64_t sectors_written(std::string const& dir) {
    struct stat s {};
    if (stat(dir.c_str(), &s) != 0) return -1;
    sync();
    std::ifstream in("/sys/dev/block/" + std::to_string(major(s.st_dev)) + ":" +
                     std::to_string(minor(s.st_dev)) + "/stat");
    std::int64_t field = -1;
    for (int i = 0; i < 7; ++i) in >> field;
    return in ? field : -1;
}

}  // namespace ingle::logbook::bench
