// Scenarios of slow hazards: a pot that creeps to the boil, one that runs dry in the hills, a fridge that
// stands ajar, a filling that catches.
#include <algorithm>
#include <cmath>

#include "tests/scenarios/scenario.hpp"

namespace ingle::scenarios {
namespace {

constexpr std::pair<double, double> poach{82.2, 87.8};

// What a probe showed of a true temperature, second by second.
template <class Model>
void play(Scenario& out, Chance& chance, double hours, Model model, double noise, double wander) {
    Probe probe(chance, noise, wander);
    out.readings.resize(1);
    for (int s = 0; s < static_cast<int>(hours * 3600); ++s) {
        double const c = model(s);
        out.true_c.push_back(c);
        out.readings[0].push_back(probe.at(s, c));
    }
}
template <class Model>
void play(Scenario& out, Chance& chance, double hours, Model model) {
    double const noise = chance.uniform(0.08, 0.2), wander = chance.uniform(0.1, 0.25);
    play(out, chance, hours, std::move(model), noise, wander);
}
std::optional<double> first(Scenario const& out, double above) {
    auto const found = std::ranges::find_if(out.true_c, [&](double c) { return c > above; });
    if (found == out.true_c.end()) return std::nullopt;
    return static_cast<double>(found - out.true_c.begin());
}

// A flame a little too high under a big covered pot: 0.15 to 0.3 K a minute, all the way to the boil.
Scenario slow_approach(std::uint64_t seed) {
    Scenario out;
    out.kind = "slow-approach";
    out.seed = seed;
    out.settings = one_vessel(VesselKind::pot, poach);
    Chance chance(seed * 15487469);
    double const per_s = chance.uniform(0.15, 0.3) / 60, boiling = 99.27 + chance.uniform(-0.3, 0.3);
    constexpr int began = 3600;
    play(out, chance, 3, [&](int s) { return std::min(boiling, 85 + per_s * std::max(0, s - began)); });
    auto const boil = *first(out, boiling - 0.05), exit = *first(out, poach.second);
    auto& truth = out.truth;
    truth.quiet_until_s = began;
    truth.hazards.push_back(
        {"leaves the band", {"leaving-band", "above-band", "boil-over-risk"}, began, exit + 300, exit, {}});
    truth.hazards.push_back({"boils", {"boil-over-risk"}, began, boil - 180, {}, boil});
    truth.expected = {"above-band", "boiling"};
    return out;
}

// No height in the kitchen file, 900 to 2500 m up: it boils at 91 to 97 degC, and ends dry.
Scenario dry_in_the_hills(std::uint64_t seed) {
    Scenario out;
    out.kind = "dry-in-the-hills";
    out.seed = seed;
    out.settings = one_vessel(VesselKind::pot, std::nullopt);
    out.settings.pressure.reset();
    Chance chance(seed * 32452867);
    Pot pot;
    pot.boiling = chance.uniform(91, 97);
    pot.celsius = pot.boiling - 40;
    pot.kg = chance.uniform(0.6, 1.1);
    pot.burner_w = chance.uniform(1500, 1900);
    play(out, chance, 1.5, [&](int) {
        pot.step();
        return pot.celsius;
    });
    if (auto const ruined = first(out, pot.boiling + 35)) {
        out.true_c.resize(static_cast<std::size_t>(*ruined));
        out.readings[0].resize(static_cast<std::size_t>(*ruined));
    }
    auto const dry = first(out, pot.boiling + 0.3), late = first(out, pot.boiling + 6);
    out.truth.expected = {"boiling", "boil-over-risk"};
    if (dry && late) out.truth.hazards.push_back({"boils dry", {"boiled-dry"}, *dry, *late, {}, {}});
    return out;
}

// No height either; the cook brings it to a simmer below the boil, leaves it there, and later turns it up.
Scenario turned_up_again(std::uint64_t seed) {
    Scenario out;
    out.kind = "turned-up-again";
    out.seed = seed;
    out.settings = one_vessel(VesselKind::pot, std::pair{80.0, 99.5});
    out.settings.pressure.reset();
    Chance chance(seed * 49979693);
    Pot pot;
    pot.celsius = 60;
    pot.kg = chance.uniform(3.5, 6);
    double const first_c = chance.uniform(83, 88), then_c = chance.uniform(91, 95);
    Wander flame{0.03, 120};
    play(out, chance, 3.5, [&](int s) {
        double const wanted = s < 5400 ? first_c : then_c;
        double const w = pot.celsius < wanted - 0.5 ? 1800 : pot.power_to_hold(wanted);
        pot.burner_w = w * (1 + flame.step(chance));
        pot.step();
        return pot.celsius;
    });
    out.truth.quiet_until_s = out.length_s();
    return out;
}

// The door closes and does not latch: a gap that the compressor does not keep up with. Somebody may look into
// a fridge for a minute, and nothing is wrong: so long it cannot be told from that, whatever a detector
// knows. That the air still rises then, where it falls by 0.02 K/s in a fridge that was shut, stands out of
// noise of 0.1 K within 20 s. The band is left 2 min after the onset at the soonest, so that it could always
// be told before; asked for is a word before it wherever that takes 3 min, and else within 4 min after.
Scenario fridge_gap(std::uint64_t seed) {
    Scenario out;
    out.kind = "fridge-gap";
    out.seed = seed;
    out.settings = one_vessel(VesselKind::fridge, std::pair{0.0, 6.5});
    Chance chance(seed * 67867979);
    Fridge fridge;
    fridge.room = chance.uniform(19, 24);
    double const gap = chance.uniform(0.45, 0.8);
    for (int s = 0; s < 20'000; ++s) fridge.step();
    constexpr int from = 3 * 3600;
    play(
        out, chance, 5,
        [&](int s) {
            if (s == from) {
                fridge.door_open = true;
                fridge.door_factor = gap;
            }
            fridge.step();
            return fridge.air;
        },
        0.08, 0.1);
    out.truth.quiet_until_s = from;
    std::optional<double> exit;
    for (std::size_t s = from; s < out.true_c.size() && !exit; ++s)
        if (out.true_c[s] > 6.5) exit = static_cast<double>(s);
    bool const in_time = exit && *exit - from > 180;
    if (exit)
        out.truth.hazards.push_back(
            {"stands ajar",
             {"leaving-band", "above-band", "cold-hold"},
             from,
             in_time ? *exit : *exit + 240,
             exit,
             {},
             in_time ? std::vector<std::string>{"leaving-band"} : std::vector<std::string>{}});
    out.truth.expected = {"above-band", "cold-hold", "leaving-band"};
    out.truth.doors.push_back({from * 1.0, 5 * 3600.0, false});
    return out;
}

// A layer at the bottom of a thick filling, over its bulk: K. Bubbles throw it about; a spoon ends it.
struct Layer {
    double over_k = 0.5, settles_s = 240;
    int stirred_until = -1;
    void step(Chance& chance, int s, double toward_k, bool thick) {
        over_k += (toward_k - over_k) / settles_s;
        if (s < stirred_until) over_k -= over_k / 4;
        if (thick && chance.happens(1 / 70.0)) over_k -= std::min(over_k * chance.uniform(0.2, 0.45), 1.8);
    }
};

Scenario filling(std::string kind, std::uint64_t seed, bool catches, bool second_probe) {
    Scenario out;
    out.kind = std::move(kind);
    out.seed = seed;
    out.settings = one_vessel(VesselKind::pot, std::pair{54.0, 84.0});
    Chance chance(seed * 86028157 + (second_probe ? 7 : 0));
    double const bulk = chance.uniform(62, 68), burns_k = 10;
    constexpr int thickens = 3600;
    double const per_s = chance.uniform(0.35, 0.6) / 60;
    Wander drift{0.3, 900};
    Layer layer;
    int next_stir = 400;
    std::vector<double> bulk_c;
    std::optional<double> onset, burns;
    play(out, chance, 2.2, [&](int s) {
        bool const stirring = !catches || s < thickens;
        if (stirring && s == next_stir) {
            layer.stirred_until = s + 20;
            next_stir = s + static_cast<int>(chance.uniform(240, 480));
        }
        double const most = catches ? 16 : 4;
        double const toward = s < thickens ? 0.5 : std::min(most, 0.5 + per_s * (s - thickens));
        layer.step(chance, s, toward, catches && s > thickens);
        bulk_c.push_back(bulk + drift.step(chance));
        if (catches && layer.over_k > 2 && !onset) onset = s;
        if (catches && layer.over_k > burns_k && !burns) burns = s;
        return bulk_c.back() + layer.over_k;
    });
    if (second_probe) {
        out.settings.probes.push_back(out.settings.probes[0]);
        out.settings.probes.back().name = "second";
        out.settings.vessels[0].more.push_back(1);
        Probe above(chance, 0.12, 0.15);
        out.readings.emplace_back();
        for (int s = 0; s < out.length_s(); ++s)
            out.readings[1].push_back(above.at(s, bulk_c[static_cast<std::size_t>(s)]));
    }
    out.truth.quiet_until_s = catches ? thickens : out.length_s();
    if (catches) out.truth.expected = {"catching", "above-band"};
    if (onset && burns) {
        out.truth.hazards.push_back({"catches", {"catching"}, thickens, *burns, {}, {}});
        auto const end = static_cast<std::size_t>(*burns) + 300;  // somebody smells it
        if (end < out.true_c.size()) {
            out.true_c.resize(end);
            for (auto& readings : out.readings) readings.resize(end);
        }
    }
    return out;
}
Scenario catching(std::uint64_t seed) {
    return filling("catching-filling", seed, true, false);
}
Scenario catching_two(std::uint64_t seed) {
    return filling("catching-two-probes", seed, true, true);
}
Scenario stirred(std::uint64_t seed) {
    return filling("stirred-filling", seed, false, false);
}
Scenario stirred_two(std::uint64_t seed) {
    return filling("stirred-two-probes", seed, false, true);
}

}  // namespace

std::vector<Kind> slow_kinds() {
    return {
        {"slow-approach", "from 1 h on the pot rises by 0.15 to 0.3 K a minute: it boils", slow_approach},
        {"dry-in-the-hills", "no height is given, it boils at 91 to 97 degC and away; limit: that + 6 K",
         dry_in_the_hills},
        {"turned-up-again",
         "no height is given; it rests at 83 to 88 and later at 91 to 95 degC: nothing is "
         "wrong",
         turned_up_again},
        {"fridge-gap",
         "at 3 h the door does not latch; limit: before the band is left, or 4 min after if it is within 3 "
         "min",
         fridge_gap},
        {"catching-filling", "from 1 h on nobody stirs, and a layer climbs in bumps; limit: 10 K over it",
         catching},
        {"catching-two-probes", "the same, with a second probe further up", catching_two},
        {"stirred-filling", "the same filling, stirred every 4 to 8 min: nothing is wrong", stirred},
        {"stirred-two-probes", "the same, with a second probe further up: nothing is wrong", stirred_two}};
}

}  // namespace ingle::scenarios
