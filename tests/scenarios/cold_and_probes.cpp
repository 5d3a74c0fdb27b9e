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
    run.run(10, [&](int s) {
        if (s % 4000 == 2000) until = s + static_cast<int>(run.chance.uniform(15, 60));
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
    return warms(seed, "fridge-ajar", [](Fridge& fridge) {
        fridge.door_open = true;
        fridge.door_factor = 0.8;
    });
}
Scenario fridge_unpowered(std::uint64_t seed) {
    return warms(seed, "fridge-power-cut", [](Fridge& fridge) { fridge.powered = false; });
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
    return fault_from("probe-displaced", seed, {"probe-displaced", "heat-lost", "below-band"}, 600,
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
