// Scenarios of a fast rise in a pot of which little is known yet: soon after a fall, a start, a dip or a gap.
#include <algorithm>
#include <cmath>
#include <functional>
#include <string>
#include <utility>
#include <vector>

#include "tests/scenarios/hands.hpp"

namespace ingle::scenarios {
namespace {

// The goal: that it will boil is told after 75 s of readings of the rise, or a minute before; where it boils
// within 90 s, that it is above its band is enough. A slow tip in hot liquid looks like that for half a
// minute. These limits were chosen with the results of seeds 1001 to 1040 in sight: seeds from 5001 on judge
// them.
constexpr double readings_s = 75, boils_soon_s = 90, above_for_s = 40;

struct Rise : Hands {
    double celsius, per_s;
    int onset, found_at = -600;  // s, when its readings began to be this pot's

    Rise(std::string kind, std::uint64_t seed, double from, int at)
        : Hands(std::move(kind), seed, VesselKind::pot, poached),
          celsius(from),
          per_s(chance.uniform(4, 22) / 60),
          onset(at) {
        constexpr std::array taus{2.0, 4.0, 6.0, 9.0};
        tips[0] = {celsius, taus[seed / 4 % taus.size()]};
        step = std::min(step, 0.5);
    }
    // `before` is what the pot does until the rise.
    void play(std::function<void(int)> const& before) {
        Wander flame(0.04, 40);
        int const until = onset + static_cast<int>((boils_at - 80) / per_s) + 240;
        std::vector<double> pot;
        run(until, [&](int s) {
            if (s < onset)
                before(s);
            else
                celsius = std::min(boils_at, celsius + per_s * (1 + flame.step(chance)));
            pot.push_back(celsius);
            tips[0].touch(celsius);
        });
        out.true_c = std::move(pot);
        judge();
    }
    void judge() {
        auto const first = [&](double above) {
            auto const from = out.true_c.begin() + onset;
            return static_cast<double>(
                std::find_if(from, out.true_c.end(), [&](double c) { return c > above; }) -
                out.true_c.begin());
        };
        double const boil = first(boils_at - 0.05), exit = first(poached.second);
        auto& truth = out.truth;
        truth.quiet_until_s = onset;
        truth.hazards.push_back({"is above its band",
                                 {"leaving-band", "above-band", "boil-over-risk"},
                                 onset * 1.0,
                                 std::max(exit + above_for_s + 2 * tips[0].tau_s, found_at + readings_s),
                                 {},
                                 {}});
        double const known = std::max(onset, found_at) + readings_s;
        bool const soon = boil - onset < boils_soon_s;
        double const limit = std::max(boil - 60, known);
        if (soon)
            truth.hazards.push_back(
                {"boils soon", {"boil-over-risk", "above-band"}, onset * 1.0, std::max(boil, known), {}, {}});
        else
            truth.hazards.push_back({"boils", {"boil-over-risk"}, onset * 1.0, limit, {}, {}});
        truth.expected = {"above-band", "boil-over-risk", "boiling", "leaving-band"};
    }
};

// It stood too hot, or in its band; cold liquid goes in, and then the flame is up, under a lid.
Scenario after_a_fall(std::uint64_t seed) {
    Rise run("fast-after-fall", seed, seed % 2 ? 85 : 95, 700);
    int const fall = run.onset - run.moment(50, 150);
    double const low = run.chance.uniform(82.8, 86), high = run.celsius;
    run.play([&](int s) {
        if (s >= fall && s < fall + 8) run.celsius += (low - high) / 8;
    });
    run.out.truth.may_tell = {{"topped-up", fall * 1.0, fall + 300.0}};
    return run.out;
}

// The program begins while it rises, or soon before.
Scenario after_a_start(std::uint64_t seed) {
    Rise run("fast-after-start", seed, 0, 0);
    run.onset = seed % 2 ? 0 : run.moment(5, 60);
    run.celsius = run.tips[0].celsius = run.chance.uniform(81, 87);
    run.found_at = 0;
    run.play([](int) {});
    return run.out;
}

// A tip is put into the pot, or back into it, and it rises soon after.
Scenario after_a_dip(std::uint64_t seed) {
    Rise run("fast-after-dip", seed, 84, 500);
    int const dip = run.found_at = run.onset - run.moment(40, 120);
    run.play([&](int s) {
        run.celsius = 84;
        if (s < dip) run.tips[0].celsius = kitchen_air;
    });
    return run.out;
}

// Nothing is read for a while, and then a pot that rises.
Scenario after_a_gap(std::uint64_t seed) {
    Rise run("fast-after-gap", seed, 84, 700);
    int const gap = run.onset - run.moment(20, 90), end = run.found_at = run.onset - run.moment(0, 10);
    run.play([](int) {});
    auto& readings = run.out.readings[0];
    for (int s = gap; s < end; ++s) readings[static_cast<std::size_t>(s)].reset();
    run.out.truth.allowed.push_back({"probe-silent", gap * 1.0, end * 1.0});
    run.out.truth.expected.push_back("probe-silent");
    return run.out;
}

}  // namespace

std::vector<Kind> fast_kinds() {
    return {{"fast-after-fall",
             "cold liquid went in; a minute later it rises by 4 to 22 K a minute: it boils", after_a_fall},
            {"fast-after-start", "the program begins beside a pot that rises so: it boils", after_a_start},
            {"fast-after-dip", "a tip is put into a pot that soon rises so: it boils", after_a_dip},
            {"fast-after-gap", "nothing was read for a while before it rises so: it boils", after_a_gap}};
}

}  // namespace ingle::scenarios
