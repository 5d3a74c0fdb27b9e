// Scenarios of an outdoor smoker and an oven: doors, fires, gusts, thermostats.
#include <algorithm>
#include <cmath>

#include "tests/scenarios/scenario.hpp"

namespace ingle::scenarios {
namespace {

constexpr std::pair<double, double> smoke{85, 102};

struct SmokerRun {
    Scenario out;
    Chance chance;
    Smoker smoker;
    Wander fire{0.04, 240}, breeze{0.12, 60};
    double base_w = 0, gust = 1;

    SmokerRun(std::string kind, std::uint64_t seed, std::optional<std::pair<double, double>> band = smoke,
              double start = 93.5)
        : chance(seed * 104729 + kind.size() * 31) {
        out.kind = std::move(kind);
        out.seed = seed;
        out.settings = one_vessel(VesselKind::smoker, band);
        smoker.outside = chance.uniform(4, 20);
        base_w = smoker.power_to_hold(start);
        smoker.air = start;
        smoker.wall = (0.55 * base_w + 14 * start + 3.2 * smoker.outside) / (14 + 3.2);
    }
    void run(double hours, std::function<void(int)> const& act, double noise = 0.35) {
        Probe probe(chance, noise, 0.4, 40);
        out.readings.resize(1);
        for (int s = 0; s < static_cast<int>(hours * 3600); ++s) {
            smoker.fire_w = base_w * (1 + fire.step(chance));
            smoker.wind = std::max(0.6, gust + breeze.step(chance));
            act(s);
            smoker.step();
            out.true_c.push_back(smoker.air);
            out.readings[0].push_back(probe.at(s, smoker.air));
        }
    }
    double length() const { return static_cast<double>(out.true_c.size()); }
    std::optional<double> first(double from, std::function<bool(double)> const& beyond) const {
        for (std::size_t s = static_cast<std::size_t>(from); s < out.true_c.size(); ++s)
            if (beyond(out.true_c[s])) return static_cast<double>(s);
        return std::nullopt;
    }
};

Scenario steady_smoke(std::uint64_t seed) {
    SmokerRun run("steady-smoke", seed);
    run.run(6, [](int) {});
    run.out.truth.quiet_until_s = run.length();
    return run.out;
}

Scenario doors(std::uint64_t seed) {
    SmokerRun run("door-opened", seed);
    auto& truth = run.out.truth;
    for (double at = run.chance.uniform(2400, 3600); at < 5 * 3600; at += run.chance.uniform(2400, 4200))
        truth.doors.push_back({std::floor(at), std::floor(at) + std::floor(run.chance.uniform(30, 120))});
    run.run(5.6, [&](int s) {
        run.smoker.door_open =
            std::ranges::any_of(truth.doors, [s](Door d) { return s >= d.opened_s && s < d.closed_s; });
    });
    truth.quiet_until_s = run.length();
    return run.out;
}

Scenario door_left_open(std::uint64_t seed) {
    SmokerRun run("door-left-open", seed);
    double const open = std::floor(run.chance.uniform(4000, 6000));
    run.run(3, [&](int s) { run.smoker.door_open = s >= open && s < open + 3600; });
    run.out.truth.quiet_until_s = open;
    run.out.truth.doors.push_back({open, open + 3600});
    run.out.truth.hazards.push_back(
        {"door left open", {"heat-lost", "below-band"}, open, open + 1200, {}, {}});
    run.out.truth.expected = {"below-band", "heat-lost", "leaving-band"};
    return run.out;
}

Scenario fire_out(std::uint64_t seed) {
    SmokerRun run("fire-out", seed);
    double const out = std::floor(run.chance.uniform(4000, 6000));
    run.run(3, [&](int s) {
        if (s >= out) run.base_w = 0;
    });
    run.out.truth.quiet_until_s = out;
    run.out.truth.hazards.push_back({"fire out", {"heat-lost"}, out, out + 600, {}, {}});
    run.out.truth.expected = {"below-band", "leaving-band"};
    return run.out;
}

Scenario fuel_ending(std::uint64_t seed) {
    SmokerRun run("fuel-ending", seed);
    double const from = std::floor(run.chance.uniform(4000, 6000)), full = run.base_w;
    run.run(5, [&](int s) {
        if (s >= from) run.base_w = full * std::exp(-(s - from) / 4500);
    });
    auto const exit = run.first(from, [](double c) { return c < smoke.first; });
    run.out.truth.quiet_until_s = from;
    run.out.truth.hazards.push_back({"fuel ending",
                                     {"heat-lost", "leaving-band", "below-band"},
                                     from,
                                     exit.value_or(from) + 600,
                                     exit,
                                     {}});
    run.out.truth.expected = {"below-band", "heat-lost"};
    return run.out;
}

Scenario refill(std::uint64_t seed) {
    SmokerRun run("refill-overshoot", seed);
    double const from = std::floor(run.chance.uniform(4000, 6000)), steady = run.base_w;
    double const more = run.chance.uniform(1.5, 1.8);
    run.run(4, [&](int s) {
        if (s >= from)
            run.base_w = s < from + 2400 ? steady * more
                                         : steady * (1 + (more - 1) * std::exp(-(s - from - 2400) / 900));
    });
    auto const exit = run.first(from, [](double c) { return c > smoke.second; });
    run.out.truth.quiet_until_s = from;
    if (exit)
        run.out.truth.hazards.push_back(
            {"overshoot", {"leaving-band", "above-band"}, from, *exit + 300, exit, {}});
    run.out.truth.expected = {"above-band", "leaving-band"};
    return run.out;
}

Scenario gusts(std::uint64_t seed) {
    SmokerRun run("gusts", seed);
    run.run(6, [&](int s) {
        if (s % 600 == 0) run.gust = run.chance.happens(0.3) ? run.chance.uniform(1.1, 1.45) : 1;
    });
    run.out.truth.quiet_until_s = run.length();
    return run.out;
}

Scenario food_added(std::uint64_t seed) {
    SmokerRun run("food-added", seed);
    double const at = 5400;
    run.run(4, [&](int s) {
        run.smoker.door_open = s >= at && s < at + 60;
        if (s == at + 50) {
            run.smoker.cold_load_kg = run.chance.uniform(2, 3);
            run.base_w *= 1.12;
        }
    });
    run.out.truth.doors.push_back({at, at + 60});
    run.out.truth.quiet_until_s = at;
    run.out.truth.expected = {"below-band", "leaving-band"};
    run.out.truth.happenings.push_back({"food-added", at, at + 1500});
    return run.out;
}

Scenario band_moved(std::uint64_t seed) {
    SmokerRun run("band-moved", seed);
    int const at = 5400;
    run.out.commands.push_back({at, Hold{0, Band{{101}, {114}}}});
    double const there = run.smoker.power_to_hold(107);
    run.run(4, [&](int s) {
        if (s >= at) run.base_w = s < at + 900 ? there * 1.3 : there;
    });
    run.out.truth.quiet_until_s = run.length();
    return run.out;
}

Scenario warming(std::uint64_t seed) {
    SmokerRun run("smoker-lit", seed);
    run.smoker.air = run.smoker.wall = run.smoker.outside;
    double const hold = run.base_w;
    run.run(4, [&](int) { run.base_w = run.smoker.air < 91 ? 1.9 * hold : hold; });
    run.out.truth.quiet_until_s = run.length();
    return run.out;
}

Scenario oven_cycles(std::uint64_t seed) {
    Scenario out;
    out.kind = "thermostat-oven";
    out.seed = seed;
    out.settings = one_vessel(VesselKind::oven, std::pair{188.0, 220.0});
    Chance chance(seed + 4242);
    Oven oven;
    oven.air = oven.element = 204;
    oven.hysteresis = chance.uniform(4, 7);
    Probe probe(chance, 0.3, 0.5);
    out.readings.resize(1);
    for (int s = 0; s < 5 * 3600; ++s) {
        oven.step();
        out.true_c.push_back(oven.air);
        out.readings[0].push_back(probe.at(s, oven.air));
    }
    out.truth.quiet_until_s = 5 * 3600;
    return out;
}

}  // namespace

std::vector<Kind> smoker_kinds() {
    return {
        {"steady-smoke", "6 h near 93 degC in a band of 85 to 102: nothing is wrong", steady_smoke},
        {"door-opened", "the door is opened for 30 to 120 s every 40 to 70 min: nothing is wrong", doors},
        {"door-left-open", "the door is opened and stays open for an hour", door_left_open},
        {"fire-out", "the fire goes out", fire_out},
        {"fuel-ending", "the fire dies away with a time constant of 75 min", fuel_ending},
        {"refill-overshoot", "a refill: half as much heat again for 40 min", refill},
        {"gusts", "6 h of gusts that cost up to 45 % more heat for 10 min: nothing is wrong", gusts},
        {"food-added", "cold meat goes in through the open door", food_added},
        {"band-moved", "the band is moved up by 16 K and the fire with it: nothing is wrong", band_moved},
        {"smoker-lit", "from cold to the band: nothing is wrong", warming},
        {"thermostat-oven", "5 h of an oven's thermostat inside its band: nothing is wrong", oven_cycles}};
}

}  // namespace ingle::scenarios
