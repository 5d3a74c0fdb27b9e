// Hands on the probe: it is dipped, lifted, moved, wiped, held, calibrated, swapped. The vessels are all
// right.
#include <algorithm>

#include "tests/scenarios/hands.hpp"

namespace ingle::scenarios {
namespace {

Scenario dipped(std::uint64_t seed) {
    PotHands run("dipped", seed);
    int const at = run.moment(60, 400);
    run.tips[0].celsius = kitchen_air;
    run.run(2400, [&](int s) {
        run.simmer();
        s < at ? run.tips[0].touch(kitchen_air, in_air) : run.tips[0].touch(run.pot.celsius);
    });
    return run.out;
}

// Into a pot that nobody holds, and held from then on.
Scenario dipped_then_held(std::uint64_t seed) {
    PotHands run("dipped-then-held", seed, std::nullopt);
    int const at = run.moment(60, 200), held = at + run.moment(0, 60);
    run.tips[0].celsius = kitchen_air;
    run.out.commands.push_back({held, Hold{0, Band{{poached.first}, {poached.second}}}});
    run.run(2400, [&](int s) {
        run.simmer();
        s < at ? run.tips[0].touch(kitchen_air, in_air) : run.tips[0].touch(run.pot.celsius);
    });
    return run.out;
}

Scenario lifted(std::uint64_t seed) {
    PotHands run("lifted-and-put-back", seed);
    std::array<std::pair<int, int>, 3> away{};
    for (int i = 0; i < 3; ++i) {
        int const at = 900 + 700 * i + run.moment(0, 300), back = at + run.moment(4, 45);
        away[static_cast<std::size_t>(i)] = {at, back};
        run.out.truth.allowed.push_back({"probe-displaced", at * 1.0, back + 20.0});
    }
    run.run(3300, [&](int s) {
        run.simmer();
        bool const out = std::ranges::any_of(away, [s](auto a) { return s >= a.first && s < a.second; });
        out ? run.tips[0].touch(kitchen_air + 8, in_air) : run.tips[0].touch(run.pot.celsius);
    });
    return run.out;
}

// To a hotter pot, and back to the first one; the cook says each time what is wanted there.
Scenario moved(std::uint64_t seed) {
    PotHands run("pot-to-pot", seed, std::pair{62.0, 74.0});
    double const other = run.chance.uniform(66, 71);
    int const there = run.moment(900, 1200), back = run.moment(2400, 2700);
    run.tips[0].celsius = other;
    run.out.commands.push_back({there - 15.0, Hold{0, Band{{poached.first}, {poached.second}}}});
    run.out.commands.push_back({back - 15.0, Hold{0, Band{{62}, {74}}}});
    run.run(3900, [&](int s) {
        run.simmer();
        bool const between = (s >= there && s < there + 6) || (s >= back && s < back + 6);
        if (between)
            run.tips[0].touch(kitchen_air + 5, in_air);
        else
            run.tips[0].touch(s >= there && s < back ? run.pot.celsius : other);
    });
    return run.out;
}

// A roast's probe stood near the edge; it is pushed to where the middle is.
Scenario edge_to_middle(std::uint64_t seed) {
    Hands run("edge-to-middle", seed, VesselKind::oven, std::pair{150.0, 175.0});
    auto& settings = run.out.settings;
    settings.probes.push_back(settings.probes[0]);
    settings.probes.back().name = "core";
    DishSettings dish;
    dish.name = "roast";
    dish.vessel = 0;
    dish.core = 1;
    dish.food = "whole-meat";
    settings.dishes.push_back(dish);
    run.out.commands.push_back({5, Begin{0}});
    double edge = run.chance.uniform(40, 47), middle = edge - run.chance.uniform(8, 18);
    run.tips.push_back({edge, run.tips[0].tau_s});
    run.tips[0].celsius = 163;
    int const at = run.moment(1200, 1800);
    run.run(3600, [&](int s) {
        edge += 0.35 / 60;
        middle += 0.5 / 60;
        run.tips[0].touch(163 + 4 * std::sin(s / 90.0), in_air);
        run.tips[1].touch(s < at ? edge : middle, 1.5);
    });
    return run.out;
}

Scenario spoon(std::uint64_t seed) {
    PotHands run("cold-spoon", seed);
    int const first = run.moment(900, 1200), second_time = run.moment(1900, 2200), held = run.moment(4, 20);
    double const metal = run.chance.uniform(10, 20);
    run.run(3000, [&](int s) {
        run.simmer();
        int const since = s >= second_time ? s - second_time : s - first;
        bool const against = since >= 0 && since < held;
        double const chill = against ? 0.6 * std::exp(-since / 15.0) : 0;
        run.tips[0].touch(run.pot.celsius + chill * (metal - run.pot.celsius));
    });
    return run.out;
}

Scenario wiped(std::uint64_t seed) {
    PotHands run("wet-cloth", seed);
    int const at = run.moment(900, 1500), cloth = at + 4, off = cloth + run.moment(6, 18), back = off + 5;
    run.out.truth.allowed.push_back({"probe-displaced", at * 1.0, back + 20.0});
    run.run(2700, [&](int s) {
        run.simmer();
        if (s >= cloth && s < off)
            run.tips[0].touch(24);
        else if (s >= at && s < back)
            run.tips[0].touch(kitchen_air + 5, in_air);
        else
            run.tips[0].touch(run.pot.celsius);
    });
    return run.out;
}

Scenario in_the_hand(std::uint64_t seed) {
    Hands run("in-the-hand", seed, VesselKind::pot,
              seed % 3 == 0 ? std::optional<std::pair<double, double>>() : poached);
    int const at = run.moment(200, 400), until = at + run.moment(30, 200);
    run.run(1200, [&](int s) {
        s >= at&& s < until ? run.tips[0].touch(34, 1.5) : run.tips[0].touch(kitchen_air, in_air);
    });
    return run.out;
}

// Out of a pot that is held (or from the drawer) into `bath` for minutes, and back.
Scenario calibrated(std::uint64_t seed, std::string kind, double bath, std::vector<std::string> true_of_pot) {
    bool const held = seed % 2 == 0;
    PotHands run(std::move(kind), seed, held ? std::optional(poached) : std::nullopt);
    int const at = run.moment(900, 1200), until = at + run.moment(180, 420);
    auto const first = [&] { return held ? run.pot.celsius : kitchen_air; };
    run.tips[0].celsius = first();
    if (held)
        for (auto& alarm : true_of_pot) run.out.truth.allowed.push_back({alarm, at + 15.0, until + 40.0});
    if (held) run.out.truth.allowed.push_back({"probe-displaced", at * 1.0, until + 40.0});
    run.run(2700, [&](int s) {
        run.simmer();
        if ((s >= at && s < at + 8) || (s >= until && s < until + 8))
            run.tips[0].touch(kitchen_air + 3, in_air);
        else if (s >= at && s < until)
            run.tips[0].touch(bath);
        else
            run.tips[0].touch(first(), held ? 1 : in_air);
    });
    return run.out;
}
Scenario in_ice(std::uint64_t seed) {
    return calibrated(seed, "in-ice-water", 0.1, {"below-band"});
}
Scenario in_boiling_water(std::uint64_t seed) {
    return calibrated(seed, "in-boiling-water", boils_at, {"above-band"});
}

// Two pots; somebody puts the probes back the wrong way round.
Scenario swapped(std::uint64_t seed) {
    PotHands run("two-swapped", seed);
    auto& settings = run.out.settings;
    settings.probes.push_back(settings.probes[0]);
    settings.probes.back().name = "other";
    settings.vessels.push_back(settings.vessels[0]);
    settings.vessels.back().name = "second";
    settings.vessels.back().medium = 1;
    settings.vessels.back().band = Band{{66}, {74}};
    double const other = run.chance.uniform(68.5, 71.5);
    run.tips.push_back({other, run.tips[0].tau_s});
    int const at = run.moment(1200, 1500);
    run.out.truth.allowed = {
        {"above-band", at + 10.0, 1e9}, {"below-band", at + 10.0, 1e9}, {"probe-displaced", at + 8.0, 1e9}};
    run.run(3000, [&](int s) {
        run.simmer();
        if (s >= at && s < at + 8) {
            for (auto& tip : run.tips) tip.touch(kitchen_air + 5, in_air);
        } else {
            run.tips[0].touch(s < at ? run.pot.celsius : other);
            run.tips[1].touch(s < at ? other : run.pot.celsius);
        }
    });
    return run.out;
}

}  // namespace

std::vector<Kind> hands_on_probes_kinds() {
    constexpr auto hands = Family::hands;
    return {
        {"dipped", "a probe goes from the air into a pot at 85 degC", dipped, hands},
        {"dipped-then-held", "the same, and the cook says `hold` within a minute", dipped_then_held, hands},
        {"lifted-and-put-back", "lifted out for 4 to 45 s, three times", lifted, hands},
        {"pot-to-pot", "from a pot at 68 to one at 85 degC and back, `hold` said before", moved, hands},
        {"edge-to-middle", "pushed from the edge of a roast to its middle, 8 to 18 K colder", edge_to_middle,
         hands},
        {"cold-spoon", "a cold spoon against the tip for 4 to 20 s, twice", spoon, hands},
        {"wet-cloth", "taken out, wiped with a wet cloth, put back", wiped, hands},
        {"in-the-hand", "a probe at room temperature is held in the hand", in_the_hand, hands},
        {"in-ice-water", "to be calibrated: minutes in ice water, and back", in_ice, hands},
        {"in-boiling-water", "to be calibrated: minutes in boiling water, and back", in_boiling_water, hands},
        {"two-swapped", "the probes of two pots are put back the wrong way round", swapped, hands}};
}

}  // namespace ingle::scenarios
