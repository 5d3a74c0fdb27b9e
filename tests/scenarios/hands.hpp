// What hands do with probes and pots every day: a tip with a time constant of its own, in whatever it
// touches.
#pragma once

#include <array>
#include <cmath>
#include <functional>
#include <string>
#include <utility>
#include <vector>

#include "tests/scenarios/scenario.hpp"

namespace ingle::scenarios {

constexpr std::pair<double, double> poached{82.2, 87.8};
constexpr double kitchen_air = 22, boils_at = 99.27;  // degC; IF97 at 988 hPa

struct Tip {
    double celsius = kitchen_air, tau_s = 5;  // of the tip in a stirred liquid
    // One second in something that is so warm. Air takes the heat away `slower` times as slowly.
    void touch(double around, double slower = 1) {
        celsius += (around - celsius) * -std::expm1(-1 / (slower * tau_s));
    }
};
constexpr double in_air = 2.5;  // times slower: a wet tip in moving air

inline std::uint64_t number_of_name(std::string_view name) {  // so that no two kinds share their chances
    std::uint64_t number = 0;
    for (char const c : name) number = number * 31 + static_cast<unsigned char>(c);
    return number % 100'003;
}

// The resolution and the time constant follow from the seed: 20 seeds have each of the 4 x 5 once.
struct Hands {
    Scenario out;
    Chance chance;
    double step, noise;
    std::vector<Tip> tips;

    Hands(std::string kind, std::uint64_t seed, VesselKind vessel,
          std::optional<std::pair<double, double>> band)
        : chance(seed * 67867967 + number_of_name(kind)) {
        constexpr std::array steps{0.1, 0.25, 0.5, 1.0};
        constexpr std::array taus{2.0, 5.0, 9.0, 18.0, 37.0};
        out.kind = std::move(kind);
        out.seed = seed;
        out.settings = one_vessel(vessel, band);
        step = steps[seed % 4];
        noise = chance.uniform(0.03, 0.15);
        tips.push_back({kitchen_air, taus[seed / 4 % 5]});
        out.noise = noise;
        out.rounding = step;
    }
    // `act` moves the kitchen by one second and the tips with it; then each probe is read, every so often.
    void run(int length_s, std::function<void(int)> const& act, int every_s = 1) {
        out.readings.resize(tips.size());
        for (auto& probe : out.settings.probes) probe.every = Duration{static_cast<double>(every_s)};
        for (int s = 0; s < length_s; ++s) {
            act(s);
            out.true_c.push_back(tips[0].celsius);
            for (std::size_t p = 0; p < tips.size(); ++p) {
                double const shown = std::round((tips[p].celsius + noise * chance.normal()) / step) * step;
                out.readings[p].push_back(s % every_s == 0 ? std::optional(Reading::good(second(s), shown))
                                                           : std::nullopt);
            }
        }
        out.truth.quiet_until_s = length_s;
    }
    int moment(int from, int until) { return static_cast<int>(chance.uniform(from, until)); }
};

// A pot that somebody keeps near 85 degC, and one tip.
struct PotHands : Hands {
    Pot pot;
    Wander flame{0.03, 120};
    double base_w = 0;

    PotHands(std::string kind, std::uint64_t seed, std::optional<std::pair<double, double>> band = poached,
             double celsius = 85)
        : Hands(std::move(kind), seed, VesselKind::pot, band) {
        pot.celsius = celsius + chance.uniform(-0.8, 0.8);
        pot.kg = chance.uniform(3.5, 7);
        pot.boiling = boils_at;
        base_w = pot.power_to_hold(pot.celsius);
        tips[0].celsius = pot.celsius;
        out.flicker = pot.flicker(flame.sd(), 120);
    }
    void simmer() {
        pot.burner_w = std::max(0.0, base_w * (1 + flame.step(chance)));
        pot.step();
    }
};

}  // namespace ingle::scenarios
