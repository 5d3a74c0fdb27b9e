// Scenarios of pots: poaching, simmering, boiling, boiling dry.
#include <algorithm>
#include <array>
#include <cmath>

#include "tests/scenarios/scenario.hpp"

namespace ingle::scenarios {
namespace {

constexpr std::pair<double, double> poach{82.2, 87.8};

struct PotRun {
    Scenario out;
    Chance chance;
    Pot pot;
    Wander flame{0.03, 120};
    double base_w = 0;

    PotRun(std::string kind, std::uint64_t seed, std::optional<std::pair<double, double>> band, double start)
        : chance(seed * 7919 + kind.size()) {
        out.kind = std::move(kind);
        out.seed = seed;
        out.settings = one_vessel(VesselKind::pot, band);
        pot.celsius = start;
        pot.kg = chance.uniform(3.5, 7);
        pot.boiling = 99.27;  // IF97 at 988 hPa
        base_w = pot.power_to_hold(start);
    }

    // `act` moves the burner, the lid, the ladle; then the pot moves one second, then the probe is read.
    void run(double hours, std::function<void(int)> const& act) {
        Probe probe(chance, chance.uniform(0.08, 0.2), chance.uniform(0.1, 0.25));
        out.noise = probe.noise();
        out.wander = probe.wander();
        out.flicker = pot.flicker(flame.sd(), 120);
        out.readings.resize(1);
        for (int s = 0; s < static_cast<int>(hours * 3600); ++s) {
            pot.burner_w = base_w * (1 + flame.step(chance));
            act(s);
            pot.step();
            out.true_c.push_back(pot.celsius);
            out.readings[0].push_back(probe.at(s, pot.celsius));
        }
    }
    // First second from `from` at which the true temperature is beyond the limit.
    std::optional<double> first(double from, std::function<bool(double)> const& beyond) const {
        for (std::size_t s = static_cast<std::size_t>(from); s < out.true_c.size(); ++s)
            if (beyond(out.true_c[s])) return static_cast<double>(s);
        return std::nullopt;
    }
    double length() const { return static_cast<double>(out.true_c.size()); }
};

Scenario steady_poach(std::uint64_t seed) {
    PotRun run("steady-poach", seed, poach, 85);
    run.run(6, [](int) {});
    run.out.truth.quiet_until_s = run.length();
    return run.out;
}

Scenario steady_simmer(std::uint64_t seed) {
    PotRun run("steady-simmer", seed, std::pair{90.0, 97.5}, 94);
    run.run(6, [&](int s) {
        if (s % 3600 == 1800) run.pot.kg = std::max(run.pot.kg, 4.0);
        run.base_w += 0.002 * (94 - run.pot.celsius) * run.base_w / 60;  // the cook looks in now and then
    });
    run.out.truth.quiet_until_s = run.length();
    return run.out;
}

// The burner ends a little too high (up > 0) or too low: the pot creeps to a balance outside the band.
Scenario creeping(std::uint64_t seed, std::string kind, bool up) {
    PotRun run(std::move(kind), seed, poach, 85);
    int const turned = 3600;
    double const end = up ? run.chance.uniform(90.5, 94) : run.chance.uniform(74, 79);
    double const there = run.pot.power_to_hold(end);
    run.run(4, [&](int s) {
        if (s >= turned) run.base_w = there;
    });
    auto& truth = run.out.truth;
    truth.quiet_until_s = turned;
    auto const exit = run.first(turned, [&](double c) { return up ? c > poach.second : c < poach.first; });
    if (exit)
        truth.hazards.push_back({"leaves the band",
                                 up ? std::vector<std::string>{"leaving-band", "above-band"}
                                    : std::vector<std::string>{"leaving-band", "below-band", "heat-lost"},
                                 static_cast<double>(turned),
                                 *exit + 300,
                                 exit,
                                 {},
                                 up ? std::vector<std::string>{"leaving-band"}
                                    : std::vector<std::string>{"leaving-band", "heat-lost"}});
    // It comes to rest well under the boil: a rising pot has lost no heat, and does not boil over.
    if (up)
        truth.expected = {"above-band"};
    else
        truth.expected = {"below-band", "heat-lost"};
    return run.out;
}
Scenario creeping_burner(std::uint64_t seed) {
    return creeping(seed, "creeping-burner", true);
}
Scenario falling_burner(std::uint64_t seed) {
    return creeping(seed, "falling-burner", false);
}

// A pot that will boil: by the lid, by a high flame, or by milk that rises fast.
Scenario boils(std::uint64_t seed, std::string kind, double watts_more, bool lid) {
    PotRun run(std::move(kind), seed, poach, 85);
    int const began = 2400;
    double const more = run.chance.uniform(0.9, 1.3) * watts_more;
    run.run(2.2, [&](int s) {
        if (s == began) {
            run.base_w += more;
            run.pot.lid = lid;
        }
        run.pot.kg = std::max(run.pot.kg, 1.0);  // somebody fills up what boils away
    });
    auto& truth = run.out.truth;
    truth.quiet_until_s = began;
    auto const boil = run.first(began, [&](double c) { return c >= run.pot.boiling - 0.05; });
    auto const exit = run.first(began, [](double c) { return c > poach.second; });
    if (exit)
        truth.hazards.push_back({"leaves the band",
                                 {"leaving-band", "above-band", "boil-over-risk"},
                                 began * 1.0,
                                 *exit + 180,
                                 exit,
                                 {}});
    if (boil) truth.hazards.push_back({"boils", {"boil-over-risk"}, began * 1.0, *boil - 60, {}, boil});
    truth.expected = {"above-band", "boiling", "leaving-band"};
    return run.out;
}
Scenario lid_on(std::uint64_t seed) {
    return boils(seed, "lid-on", 120, true);
}
Scenario boil(std::uint64_t seed) {
    return boils(seed, "flame-too-high", 1500, false);
}
// A loose wire must not hide it.
Scenario lossy_boil(std::uint64_t seed) {
    auto out = lid_on(seed);
    out.kind = "lossy-boil";
    Chance chance(seed * 32452843);
    for (std::size_t s = 1200; s < out.readings[0].size(); ++s)
        if (chance.happens(0.3))
            out.readings[0][s] =
                Reading::faulty(second(static_cast<double>(s)), FaultKind::garbled, "unreadable");
    return out;
}

Scenario fast_rise(std::uint64_t seed) {
    return boils(seed, "fast-rise", 2000, true);
}

Scenario boiled_dry(std::uint64_t seed) {
    PotRun run("boiled-dry", seed, std::nullopt, 97);
    run.pot.kg = run.chance.uniform(0.6, 1.1);
    run.base_w = run.chance.uniform(1700, 2100);
    run.run(1.5, [&](int) {});
    auto const ruined = run.first(0, [&](double c) { return c > run.pot.boiling + 35; });
    if (ruined) {  // the story ends here: somebody smelt it
        run.out.true_c.resize(static_cast<std::size_t>(*ruined));
        run.out.readings[0].resize(static_cast<std::size_t>(*ruined));
    }
    auto const dry = run.first(0, [&](double c) { return c > run.pot.boiling + 0.3; });
    auto const late = run.first(0, [&](double c) { return c > run.pot.boiling + 6; });
    run.out.truth.expected = {"boiling", "boil-over-risk"};
    if (dry && late) run.out.truth.hazards.push_back({"boils dry", {"boiled-dry"}, *dry, *late, {}, {}});
    return run.out;
}

// A stock that thickens: its boiling plateau creeps up by 2 K in hours. Not a dry pot.
Scenario thickening(std::uint64_t seed) {
    PotRun run("thickening-stock", seed, std::pair{90.0, 103.0}, 98);
    run.pot.kg = 9;
    run.base_w = 1500;
    run.run(5, [&](int s) {
        run.pot.boiling = 99.27 + 2.0 * s / 18'000.0;
        run.pot.kg = std::max(run.pot.kg, 2.0);
    });
    run.out.truth.quiet_until_s = run.length();
    return run.out;
}

Scenario burner_out(std::uint64_t seed) {
    PotRun run("burner-out", seed, poach, 85);
    int const out = static_cast<int>(run.chance.uniform(3000, 4200));
    run.run(2.5, [&](int s) {
        if (s >= out) run.base_w = 0;
    });
    auto const exit = run.first(out, [](double c) { return c < poach.first; });
    run.out.truth.quiet_until_s = out;
    run.out.truth.hazards.push_back(
        {"burner out", {"heat-lost", "leaving-band", "below-band"}, out * 1.0, out + 600.0, exit, {}});
    run.out.truth.expected = {"below-band", "heat-lost"};
    return run.out;
}

// A ladle of cold water: the pot drops and recovers under a flame turned up for it.
Scenario top_up(std::uint64_t seed) {
    PotRun run("top-up", seed, std::pair{80.0, 96.0}, 92);
    run.run(3, [&](int s) {
        if (s == 4000 || s == 8000) {
            double const cold = run.chance.uniform(0.06, 0.10) * run.pot.kg;
            run.pot.celsius = (run.pot.celsius * run.pot.kg + 12 * cold) / (run.pot.kg + cold);
            run.pot.kg += cold;
        }
        run.base_w = run.pot.power_to_hold(92) + 260 * std::clamp(92 - run.pot.celsius, 0.0, 4.0);
    });
    run.out.truth.quiet_until_s = run.length();
    run.out.truth.happenings = {{"topped-up", 4000, 4180}, {"topped-up", 8000, 8180}};
    return run.out;
}

// Cold pieces into the simmering stock. The heat goes into them by conduction (slabs 24 mm thick, 0.5 W/mK,
// 1.4e-7 m2/s, 600 W/m2K at their surface); after three minutes the cook turns the flame up.
Scenario food_in_pot(std::uint64_t seed) {
    PotRun run("food-in-pot", seed, std::pair{80.0, 96.0}, 92);
    constexpr int layers = 6, at = 4000;
    constexpr double half = 0.012, dx = half / layers, diffusivity = 1.4e-7, conductivity = 0.5,
                     surface = 600;
    std::array<double, layers> meat{};
    meat.fill(5);
    double const kg = run.pot.kg * run.chance.uniform(0.25, 0.4), area = kg / 1050 / half;
    run.run(3, [&](int s) {
        if (s >= at) {
            double const into = (run.pot.celsius - meat[0]) / (1 / surface + dx / 2 / conductivity);  // W/m2
            run.pot.celsius -= into * area / (run.pot.kg * 4186 + 900);
            auto const before = meat;
            for (std::size_t i = 0; i < layers; ++i) {
                double const outer = i == 0 ? into : conductivity * (before[i - 1] - before[i]) / dx;
                double const inner = i + 1 == layers ? 0 : conductivity * (before[i] - before[i + 1]) / dx;
                meat[i] += (outer - inner) / dx * diffusivity / conductivity;
            }
        }
        bool const looked = s < at || s > at + 180;
        if (looked) run.base_w = run.pot.power_to_hold(92) + 260 * std::clamp(92 - run.pot.celsius, 0.0, 4.0);
    });
    run.out.truth.quiet_until_s = run.length();
    run.out.truth.happenings = {{"food-added", at, at + 500}};
    return run.out;
}

// The drift is seen and corrected in time: what is told must stop being told.
Scenario corrected(std::uint64_t seed) {
    PotRun run("corrected-in-time", seed, poach, 85);
    double const there = run.pot.power_to_hold(90.5), back = run.pot.power_to_hold(84);
    bool turned_down = false;
    run.run(3, [&](int s) {
        if (s < 3600) return;
        if (run.pot.celsius > 87.0 && !turned_down) {
            turned_down = true;
            run.out.truth.corrected_s = s;
        }
        run.base_w = turned_down ? back : there;
    });
    run.out.truth.quiet_until_s = 3600;
    run.out.truth.expected = {"leaving-band"};
    return run.out;
}

Scenario warm_up(std::uint64_t seed) {
    PotRun run("warm-up", seed, poach, 14);
    run.run(3, [&](int) { run.base_w = run.pot.celsius < 84.5 ? 2200 : run.pot.power_to_hold(85); });
    run.out.truth.quiet_until_s = run.length();
    return run.out;
}

Scenario never_warm(std::uint64_t seed) {
    PotRun run("never-warm", seed, poach, 14);
    run.base_w = run.pot.power_to_hold(run.chance.uniform(60, 70));
    run.run(5, [](int) {});
    run.out.truth.quiet_until_s = 1800;
    run.out.truth.hazards.push_back({"will not reach its band", {"slow-to-reach"}, 600, 3 * 3600.0, {}, {}});
    return run.out;
}

}  // namespace

std::vector<Kind> pot_kinds() {
    return {{"steady-poach", "6 h at 85 degC in a band of 82.2 to 87.8: nothing is wrong", steady_poach},
            {"steady-simmer", "6 h near 94 degC in a band of 90 to 97.5: nothing is wrong", steady_simmer},
            {"creeping-burner", "at 1 h the flame is set for 90.5 to 94 degC: the pot leaves its band upward",
             creeping_burner},
            {"falling-burner", "at 1 h the flame is set for 74 to 79 degC: the pot leaves its band downward",
             falling_burner},
            {"lid-on", "at 40 min the lid goes on and the flame up a little: it boils", lid_on},
            {"lossy-boil", "the same, and from 20 min on the probe loses three readings in ten", lossy_boil},
            {"flame-too-high", "at 40 min the flame goes up by 1.4 to 2 kW: it boils", boil},
            {"fast-rise", "at 40 min lid and 1.8 to 2.6 kW more: it boils within minutes", fast_rise},
            {"boiled-dry", "0.6 to 1.1 kg of liquid boil away; limit: boiling point + 6 K", boiled_dry},
            {"thickening-stock", "the boiling plateau creeps up by 2 K in 5 h: nothing is wrong", thickening},
            {"burner-out", "the flame goes out at about 1 h", burner_out},
            {"top-up", "cold liquid is added twice and the pot recovers: nothing is wrong", top_up},
            {"food-in-pot", "cold pieces go into the stock: nothing is wrong", food_in_pot},
            {"corrected-in-time", "a drift that the cook turns down before the band is left", corrected},
            {"warm-up", "from 14 degC to the band at full flame: nothing is wrong", warm_up},
            {"never-warm", "the flame is good for 60 to 70 degC: the band is never reached", never_warm}};
}

}  // namespace ingle::scenarios
