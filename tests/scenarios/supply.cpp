// Scenarios of a supply of heat or cold that fails: gas that runs low, a relay that sticks, a lid that slides
// shut, a compressor that never stops.
#include <algorithm>
#include <cmath>

#include "tests/scenarios/scenario.hpp"

namespace ingle::scenarios {
namespace {

constexpr double water_j_per_kg_k = 4186;

struct Supply {
    Scenario out;
    Chance chance;

    Supply(std::string kind, std::uint64_t seed, VesselKind vessel, std::pair<double, double> band)
        : chance(seed * 122949829 + kind.size()) {
        out.kind = std::move(kind);
        out.seed = seed;
        out.settings = one_vessel(vessel, band);
    }
    void run(double hours, std::function<double(int)> const& act) {
        Probe probe(chance, chance.uniform(0.08, 0.2), chance.uniform(0.1, 0.25));
        out.readings.resize(1);
        for (int s = 0; s < static_cast<int>(hours * 3600); ++s) {
            out.true_c.push_back(act(s));
            out.readings[0].push_back(probe.at(s, out.true_c.back()));
        }
    }
    std::optional<double> first(int from, std::function<bool(double)> const& is) const {
        for (std::size_t s = static_cast<std::size_t>(from); s < out.true_c.size(); ++s)
            if (is(out.true_c[s])) return static_cast<double>(s);
        return std::nullopt;
    }
    Scenario ends(int began, std::string what, std::vector<std::string> told_by, double later_s,
                  std::function<bool(double)> const& outside) {
        out.truth.quiet_until_s = began;
        out.truth.expected = told_by;
        if (auto const exit = first(began, outside))
            out.truth.hazards.push_back(
                {std::move(what), std::move(told_by), began * 1.0, *exit + later_s, exit, {}});
        return std::move(out);
    }
};

// The bottle runs low: the flame shrinks over 10 to 20 min to nothing.
Scenario gas_runs_low(std::uint64_t seed) {
    Supply run("gas-runs-low", seed, VesselKind::pot, {82.2, 87.8});
    Pot pot;
    pot.celsius = 85;
    pot.kg = run.chance.uniform(3.5, 7);
    double const held = pot.power_to_hold(85), fades_s = run.chance.uniform(600, 1200);
    Wander flame(0.03, 120);
    int const from = run.chance.happens(0.5) ? 3000 : 3900;
    run.run(3, [&](int s) {
        double const left = s < from ? 1 : std::max(0.0, 1 - (s - from) / fades_s);
        pot.burner_w = held * left * (1 + flame.step(run.chance));
        pot.step();
        return pot.celsius;
    });
    return run.ends(from, "the gas runs out", {"leaving-band", "below-band", "heat-lost"}, 300,
                    [](double c) { return c < 82.2; });
}

// The lid creeps over the opening for minutes: less and less is lost, and nobody turns the flame down.
Scenario lid_slides(std::uint64_t seed) {
    Supply run("lid-slides-shut", seed, VesselKind::pot, {82.2, 87.8});
    Pot pot;
    pot.celsius = 85;
    pot.kg = run.chance.uniform(3.5, 7);
    pot.boiling = 99.27;
    double const held = pot.power_to_hold(85), slides_s = run.chance.uniform(200, 600);
    Wander flame(0.03, 120);
    int const from = 3600;
    run.run(3, [&](int s) {
        Pot covered = pot;
        covered.lid = true;
        double const shut = std::clamp((s - from) / slides_s, 0.0, 1.0);
        double const saved = shut * (pot.loss_w(pot.celsius) - covered.loss_w(pot.celsius));
        pot.burner_w = held * (1 + flame.step(run.chance)) + saved;
        pot.kg = std::max(pot.kg, 1.5);
        pot.step();
        return pot.celsius;
    });
    auto const boil = run.first(from, [&](double c) { return c >= 99.27 - 0.05; });
    auto out = run.ends(from, "leaves the band", {"leaving-band", "above-band", "boil-over-risk"}, 180,
                        [](double c) { return c > 87.8; });
    if (boil) out.truth.hazards.push_back({"boils", {"boil-over-risk"}, from * 1.0, *boil - 60, {}, boil});
    out.truth.expected = {"above-band", "boiling", "leaving-band", "boil-over-risk"};
    return out;
}

// A water bath at 60 degC whose relay sticks: it heats on.
Scenario relay_sticks(std::uint64_t seed) {
    Supply run("relay-sticks", seed, VesselKind::bath, {58.5, 61.5});
    double bath = 60;
    double const kg = run.chance.uniform(8, 15), watts = run.chance.uniform(500, 1100), loss = 5;
    int const from = 4200;
    bool on = false;
    run.run(2.5, [&](int s) {
        if (bath > 60.1) on = false;
        if (bath < 59.9 || s >= from) on = true;
        bath += ((on ? watts : 0) - loss * (bath - 22)) / (kg * water_j_per_kg_k);
        return bath = std::min(bath, 99.27);
    });
    auto out = run.ends(from, "heats on", {"leaving-band", "above-band", "boil-over-risk"}, 150,
                        [](double c) { return c > 61.5; });
    out.truth.expected.emplace_back("boiling");
    return out;
}

// A compressor that does not stop any more: what stands there freezes.
Scenario never_stops(std::uint64_t seed) {
    Supply run("compressor-never-stops", seed, VesselKind::fridge, {0, 6.5});
    Fridge fridge;
    fridge.room = run.chance.uniform(18, 24);
    for (int s = 0; s < 20'000; ++s) fridge.step();
    int const from = 3 * 3600;
    run.run(9, [&](int s) {
        if (s >= from) fridge.low = -30;
        if (s == from) fridge.on = true;
        fridge.step();
        return fridge.air;
    });
    return run.ends(from, "too cold", {"leaving-band", "below-band"}, 1800, [](double c) { return c < 0; });
}

}  // namespace

std::vector<Kind> supply_kinds() {
    constexpr auto vessels = Family::vessels;
    return {{"gas-runs-low", "at 50 or 65 min the flame begins to shrink, to nothing in 10 to 20 min",
             gas_runs_low, vessels, false},
            {"lid-slides-shut", "at 1 h a lid begins to cover the pot, within 3 to 10 min: it may boil",
             lid_slides, vessels, false},
            {"relay-sticks", "at 70 min a water bath's heater does not switch off any more", relay_sticks,
             vessels, false},
            {"compressor-never-stops", "at 3 h a fridge's compressor does not stop any more", never_stops,
             vessels}};
}

}  // namespace ingle::scenarios
