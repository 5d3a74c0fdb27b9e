// What the core costs: microseconds per reading at 8 probes and 1 Hz, whether it grows with the number of
// probes or with the length of the cook, and how long a 14 h recording of 4 probes takes. Prints ratios.
#include <cmath>
#include <cstdio>
#include <ctime>
#include <string>

#include "daemon/kitchen/kitchen.hpp"

namespace {

using namespace ingle;

Settings kitchen_of(int probes) {
    Settings settings;
    settings.name = "bench";
    settings.altitude = Length{100};
    for (int i = 0; i < probes; ++i) {
        ProbeSettings probe;
        probe.name = "p" + std::to_string(i);
        probe.driver = "recorded";
        settings.probes.push_back(probe);
        VesselSettings vessel;
        vessel.name = "v" + std::to_string(i);
        vessel.kind = i % 2 ? VesselKind::smoker : VesselKind::pot;
        vessel.medium = i;
        vessel.band = Band{{80}, {90}};
        settings.vessels.push_back(vessel);
    }
    return settings;
}

// Microseconds per reading between two hours of a run that has lasted `from` hours.
double cost(int probes, double from, double hours) {
    Kitchen kitchen(kitchen_of(probes), Instant{});
    Effects effects;
    auto const play = [&](double first, double last) {
        for (auto s = static_cast<std::int64_t>(first * 3600); s < static_cast<std::int64_t>(last * 3600);
             ++s) {
            Instant const at(Span(s * 1000));
            for (int probe = 0; probe < probes; ++probe) {
                double const wobble = std::sin(static_cast<double>(s) / 37 + probe) +
                                      0.3 * std::sin(static_cast<double>(s) * 1.7);
                kitchen.take(probe, Reading::good(at, std::round(4 * (85 + wobble)) / 4), effects);
            }
            effects.clear();
        }
    };
    play(0, from);
    auto const began = std::clock();  // of the processor: what else the machine does is not the core's cost
    play(from, from + hours);
    return 1e6 * static_cast<double>(std::clock() - began) / CLOCKS_PER_SEC / (probes * hours * 3600);
}

}  // namespace

int main() {
    // The same hours each time: a vessel that has just come to its band costs more than a steady one.
    double const eight = cost(8, 0.1, 1), many = cost(64, 0.1, 1), late = cost(8, 14, 1);
    std::printf("%-52s %8.2f us   goal: under 15\n", "per reading, 8 probes at 1 Hz", eight);
    std::printf("%-52s %8.2f      goal: near 1\n", "  64 probes beside 8, per reading", many / eight);
    std::printf("%-52s %8.2f      goal: near 1\n", "  after 14 h beside the first hour", late / eight);
    std::printf("%-52s %8.2f s    goal: under 3\n", "14 h of 4 probes at 1 Hz through the core",
                cost(4, 0, 14) * 14 * 3600 * 4 / 1e6);
    return 0;
}
