// Scenarios of a fridge, and of probes that lie.
#include <algorithm>
#include <cmath>

#include "tests/scenarios/scenario.hpp"

namespace ingle::scenarios {
namespace {

struct FridgeRun {
    Scenario out;
    Chance chance;
    Fridge fridge;

    FridgeRun(std::string kind, std::uint64_t seed) : chance(seed * 15485863 + kind.size()) {
        out.kind = std::move(kind);
        out.seed = seed;
        out.settings = one_vessel(VesselKind::fridge, std::pair{0.0, 6.5});
        fridge.room = chance.uniform(18, 24);
        for (int s = 0; s < 20'000; ++s) fridge.step();
    }
    void run(double hours, std::function<void(int)> const& act) {
        Probe probe(chance, 0.08, 0.1);
        out.readings.resize(1);
        for (int s = 0; s < static_cast<int>(hours * 3600); ++s) {
            act(s);
            fridge.step();
            out.true_c.push_back(fridge.air);
            out.readings[0].push_back(probe.at(s, fridge.air));
        }
    }
    std::optional<double> first(double from, double above) const {
        for (std::size_t s = static_cast<std::size_t>(from); s < out.true_c.size(); ++s)
            if (out.true_c[s] > above) return static_cast<double>(s);
        return std::nullopt;
    }
};

Scenario fridge_quiet(std::uint64_t seed) {
    FridgeRun run("fridge-quiet", seed);
    run.run(12, [](int) {});
    run.out.truth.quiet_until_s = 12 * 3600;
    return run.out;
}

Scenario fridge_opened(std::uint64_t seed) {
    FridgeRun run("fridge-opened", seed);
    int until = 0;
    double before = 0;
    run.run(10, [&](int s) {
        // What costs less than a degree may pass unseen.
        if (s == until && s > 0) run.out.truth.doors.back().counts = run.fridge.air - before >= 1.0;
        if (s % 4000 == 2000) {
            until = s + static_cast<int>(run.chance.uniform(15, 60));
            before = run.fridge.air;
            run.out.truth.doors.push_back({s * 1.0, until * 1.0});
        }
        run.fridge.door_open = s < until;
    });
    run.out.truth.quiet_until_s = 10 * 3600;
    return run.out;
}

Scenario warms(std::uint64_t seed, std::string kind, std::function<void(Fridge&)> const& trouble) {
    FridgeRun run(std::move(kind), seed);
    int const from = 3 * 3600;
    run.run(9, [&](int s) {
        if (s == from) trouble(run.fridge);
    });
    run.out.truth.quiet_until_s = from;
    if (auto const exit = run.first(from, 6.5))
        run.out.truth.hazards.push_back(
            {"too warm", {"above-band", "leaving-band", "cold-hold"}, from * 1.0, *exit + 1800, exit, {}});
    run.out.truth.expected = {"above-band", "cold-hold", "leaving-band"};
    return run.out;
}
Scenario fridge_ajar(std::uint64_t seed) {
    auto out = warms(seed, "fridge-ajar", [](Fridge& fridge) {
        fridge.door_open = true;
        fridge.door_factor = 0.8;
    });
    out.truth.doors.push_back({3 * 3600.0, 9 * 3600.0, false});
    return out;
}
Scenario fridge_unpowered(std::uint64_t seed) {
    return warms(seed, "fridge-power-cut", [](Fridge& fridge) { fridge.powered = false; });
}

// A compressor that grows weak: its whole swing rises for hours before the limit is passed.
Scenario fridge_drifting(std::uint64_t seed) {
    FridgeRun run("fridge-drifting", seed);
    int const from = 3 * 3600;
    double const low = run.fridge.low, high = run.fridge.high, per_h = run.chance.uniform(0.4, 0.7);
    run.run(9, [&](int s) {
        double const more = std::max(0, s - from) / 3600.0 * per_h;
        run.fridge.low = low + more;
        run.fridge.high = high + more;
    });
    run.out.truth.quiet_until_s = from;
    if (auto const exit = run.first(from, 6.5))
        run.out.truth.hazards.push_back(
            {"drifts out", {"above-band", "leaving-band", "cold-hold"}, from * 1.0, *exit + 1800, exit, {}});
    run.out.truth.expected = {"above-band", "cold-hold", "leaving-band"};
    return run.out;
}

// A pot at 85 degC that is all right, and a probe that is not: `lie` changes what the probe says.
Scenario probe_lies(std::string kind, std::uint64_t seed,
                    std::function<std::optional<Reading>(Chance&, int, Reading)> const& lie) {
    Scenario out;
    out.kind = std::move(kind);
    out.seed = seed;
    out.settings = one_vessel(VesselKind::pot, std::pair{82.2, 87.8});
    Chance chance(seed * 32452843 + out.kind.size());
    Probe probe(chance, 0.15, 0.2);
    out.readings.resize(1);
    for (int s = 0; s < 3 * 3600; ++s) {
        out.true_c.push_back(85);
        out.readings[0].push_back(lie(chance, s, probe.at(s, 85)));
    }
    out.truth.quiet_until_s = 3 * 3600;
    return out;
}

Scenario spikes(std::uint64_t seed) {
    return probe_lies("spikes", seed, [](Chance& chance, int s, Reading r) -> std::optional<Reading> {
        if (chance.happens(1 / 1080.0))
            return Reading::good(second(s), 85 + 27 * (chance.happens(0.5) ? 1 : -1));
        return r;
    });
}

// The same compressor wrings both probes of a fridge, once a period.
Scenario interference(std::uint64_t seed) {
    FridgeRun run("interference", seed);
    run.run(8, [](int) {});
    auto& out = run.out;
    out.settings.probes.push_back(out.settings.probes[0]);
    out.settings.probes.back().name = "second";
    out.settings.vessels[0].more.push_back(1);
    Probe probe(run.chance, 0.08, 0.1);
    out.readings.emplace_back();
    for (int s = 0; s < 8 * 3600; ++s)
        out.readings[1].push_back(probe.at(s, out.true_c[static_cast<std::size_t>(s)]));
    double const period = run.chance.uniform(700, 1500);
    for (double at = 300; at < 8 * 3600; at += period * run.chance.uniform(0.96, 1.04))
        for (auto& readings : out.readings)
            readings[static_cast<std::size_t>(at)] = Reading::good(second(std::floor(at)), 31.5);
    out.truth.quiet_until_s = 8 * 3600;
    out.truth.happenings.push_back({"periodic-interference", 3000, 8 * 3600.0});
    return out;
}

// Two grounded tips in one pan, for ten minutes.
Scenario tips_touch(std::uint64_t seed) {
    auto out = probe_lies("tips-touch", seed, [](Chance& chance, int s, Reading r) -> std::optional<Reading> {
        if (s < 5400 || s >= 6000) return r;
        if (chance.happens(0.2)) return Reading::faulty(r.at, FaultKind::short_to_ground, "short to ground");
        return Reading::good(r.at, std::round(4 * (85 + 8 * chance.normal())) / 4);
    });
    out.settings.probes.push_back(out.settings.probes[0]);
    out.settings.probes.back().name = "second";
    out.settings.vessels[0].more.push_back(1);
    Chance chance(seed * 86028121);
    Probe probe(chance, 0.15, 0.2);
    out.readings.emplace_back();
    for (int s = 0; s < out.length_s(); ++s)
        out.readings[1].push_back(probe.at(s, s < 5400 || s >= 6000 ? 22 : 85));
    out.truth.happenings.push_back({"interference", 5400, 5600});
    return out;
}

Scenario bursts(std::uint64_t seed) {
    return probe_lies("fault-bursts", seed, [](Chance&, int s, Reading r) -> std::optional<Reading> {
        if (s % 900 < 6) return Reading::faulty(second(s), FaultKind::garbled, "unreadable");
        return r;
    });
}

Scenario fault_from(std::string kind, std::uint64_t seed, std::vector<std::string> told_by, double limit,
                    std::function<std::optional<Reading>(Chance&, int, Reading)> const& lie) {
    constexpr int from = 5400;
    auto out =
        probe_lies(std::move(kind), seed, [&](Chance& chance, int s, Reading r) -> std::optional<Reading> {
            return s < from ? std::optional(r) : lie(chance, s - from, r);
        });
    out.truth.quiet_until_s = from;
    out.truth.hazards.push_back({"probe fault", std::move(told_by), from, from + limit, {}, {}});
    return out;
}

Scenario dead(std::uint64_t seed) {
    return fault_from("probe-open", seed, {"probe-open"}, 60,
                      [](Chance&, int, Reading r) -> std::optional<Reading> {
                          return Reading::faulty(r.at, FaultKind::open, "open");
                      });
}
Scenario shorted(std::uint64_t seed) {
    return fault_from("probe-short", seed, {"probe-short"}, 60,
                      [](Chance&, int, Reading r) -> std::optional<Reading> {
                          return Reading::faulty(r.at, FaultKind::short_to_ground, "short to ground");
                      });
}
Scenario silent(std::uint64_t seed) {
    return fault_from("probe-silent", seed, {"probe-silent"}, 120,
                      [](Chance&, int, Reading) -> std::optional<Reading> { return std::nullopt; });
}
Scenario implausible(std::uint64_t seed) {
    return fault_from(
        "probe-implausible", seed, {"probe-implausible"}, 90,
        [](Chance&, int, Reading r) -> std::optional<Reading> { return Reading::good(r.at, 1372); });
}
Scenario displaced(
    std::uint64_t seed) {  // lifted out and hung over the pot: falls to 35 degC in a minute, wavers
    return fault_from("probe-displaced", seed, {"probe-displaced"}, 120,
                      [](Chance& chance, int s, Reading r) -> std::optional<Reading> {
                          double const c = 35 + 50 * std::exp(-s / 20.0) + 1.5 * chance.normal();
                          return Reading::good(r.at, std::round(c * 4) / 4);
                      });
}

Scenario reversed(std::uint64_t seed) {
    Scenario out;
    out.kind = "probe-reversed";
    out.seed = seed;
    out.settings = one_vessel(VesselKind::pot, std::pair{82.2, 87.8});
    Chance chance(seed * 49979687);
    Probe probe(chance, 0.15, 0.2);
    Pot pot;
    pot.celsius = 20;
    out.readings.resize(1);
    for (int s = 0; s < 2 * 3600; ++s) {
        pot.burner_w = pot.celsius < 84.5 ? 2400 : pot.power_to_hold(85);
        pot.step();
        out.true_c.push_back(pot.celsius);
        auto reading = probe.at(s, 2 * 22 - pot.celsius);
        reading.cold_junction = 22;
        out.readings[0].push_back(reading);
    }
    out.truth.hazards.push_back({"wires swapped", {"probe-reversed", "probe-implausible"}, 0, 1500, {}, {}});
    out.truth.expected = {"slow-to-reach"};
    return out;
}

}  // namespace

std::vector<Kind> cold_and_probe_kinds() {
    return {
        {"fridge-quiet", "12 h of a compressor's cycle, band 0 to 6.5 degC: nothing is wrong", fridge_quiet},
        {"fridge-opened", "the fridge is opened for 15 to 60 s every 67 min: nothing is wrong",
         fridge_opened},
        {"fridge-ajar", "at 3 h the door stays ajar", fridge_ajar},
        {"fridge-power-cut", "at 3 h the compressor has no power", fridge_unpowered},
        {"fridge-drifting", "from 3 h on its thermostat drifts up by 0.4 to 0.7 K an hour", fridge_drifting},
        {"interference", "single wild readings on two probes at once, at a rhythm: nothing is wrong",
         interference},
        {"tips-touch", "at 90 min a second tip touches the first one's metal for 10 min: nothing is wrong",
         tips_touch},
        {"spikes", "single samples 27 K off, one in 18 min: nothing is wrong", spikes},
        {"fault-bursts", "6 unreadable samples every 15 min: nothing is wrong", bursts},
        {"probe-open", "at 90 min the wire breaks", dead},
        {"probe-short", "at 90 min the wire is shorted to ground", shorted},
        {"probe-silent", "at 90 min the instrument falls silent", silent},
        {"probe-implausible", "at 90 min the probe says 1372 degC", implausible},
        {"probe-displaced", "at 90 min the probe is lifted out of the pot", displaced},
        {"probe-reversed", "plus and minus are swapped while the pot heats up", reversed}};
}

}  // namespace ingle::scenarios
