// Everyday handling near a probe: its cable, its plug, its supply, and what steam, wind, sun, neighbours and
// doors do to what it stands in. The vessels are all right.
#include <algorithm>

#include "tests/scenarios/hands.hpp"

namespace ingle::scenarios {
namespace {

constexpr double water_j_per_kg_k = 4186, ice_j_per_kg = 334e3, ice_j_per_kg_k = 2100;

// A fridge that has run for hours, and one tip in its air.
struct FridgeHands : Hands {
    Fridge fridge;
    FridgeHands(std::string kind, std::uint64_t seed)
        : Hands(std::move(kind), seed, VesselKind::fridge, std::pair{0.0, 6.5}) {
        fridge.room = chance.uniform(18, 24);
        for (int s = 0; s < 20'000; ++s) fridge.step();
        tips[0].celsius = fridge.air;
    }
};

// The cable is caught: a part of the tip comes out of the liquid into the steam over it, and goes back.
Scenario cable_tugged(std::uint64_t seed) {
    PotHands run("cable-tugged", seed);
    int const at = run.moment(900, 1400), back = at + run.moment(10, 60);
    int const again = run.moment(2000, 2400), back_again = again + run.moment(10, 60);
    double const out = run.chance.uniform(0.15, 0.5), steam = run.chance.uniform(50, 65);
    for (auto const& [from, until] : {std::pair{at, back}, {again, back_again}})
        run.out.truth.allowed.push_back({"probe-displaced", from * 1.0, until + 30.0});
    run.run(3300, [&](int s) {
        run.simmer();
        bool const half = (s >= at && s < back) || (s >= again && s < back_again);
        run.tips[0].touch(half ? (1 - out) * run.pot.celsius + out * steam : run.pot.celsius, half ? 1.3 : 1);
    });
    return run.out;
}

// A pot beside the oven is uncovered, and its steam is drawn in past the tip. The tip cannot tell that from a
// door, and falls as with one: told as a likeness, that is no invention.
Scenario steam_on_oven(std::uint64_t seed) {
    Hands run("steam-on-oven-probe", seed, VesselKind::oven, std::pair{175.0, 215.0});
    Oven oven;
    oven.set = 195;
    for (int s = 0; s < 7200; ++s) oven.step();
    run.tips[0].celsius = oven.air;
    int const at = run.moment(1500, 2400), until = at + run.moment(20, 90);
    double const share = run.chance.uniform(0.1, 0.3);
    run.out.truth.doors.push_back({at * 1.0, until * 1.0, false});
    run.run(5400, [&](int s) {
        oven.step();
        bool const steamed = s >= at && s < until;
        run.tips[0].touch(steamed ? (1 - share) * oven.air + share * 100 : oven.air, in_air);
    });
    return run.out;
}

// A wet towel over the lid takes heat until it is dry; the fire is all right.
Scenario towel_on_lid(std::uint64_t seed) {
    Hands run("towel-on-lid", seed, VesselKind::smoker, std::pair{85.0, 102.0});
    Smoker smoker;
    smoker.outside = run.chance.uniform(4, 18);
    double const hold = smoker.power_to_hold(94);
    smoker.air = run.tips[0].celsius = 94;
    smoker.wall = (0.55 * hold + 14 * smoker.air + 3.2 * smoker.outside) / (14 + 3.2);
    Wander fire(0.04, 240), breeze(0.1, 60);
    int const at = run.moment(1500, 2400), dry = at + run.moment(240, 700);
    double const towel = run.chance.uniform(1.25, 1.5);
    run.run(7200, [&](int s) {
        smoker.fire_w = hold * (1 + fire.step(run.chance));
        smoker.wind = std::max(0.6, 1 + breeze.step(run.chance)) * (s >= at && s < dry ? towel : 1);
        smoker.step();
        run.tips[0].touch(smoker.air, 1.5);
    });
    return run.out;
}

// A pot of water at room temperature is set beside the probe, which sees a little of it.
Scenario pot_in_fridge(std::uint64_t seed) {
    FridgeHands run("pot-in-fridge", seed);
    double water = run.chance.uniform(15, 24), kg = 0;
    double const seen = run.chance.uniform(0.05, 0.15), loses_w_per_k = 1.5;
    int const at = run.moment(3600, 5400), shut = at + run.moment(15, 45);
    run.out.truth.doors.push_back({at * 1.0, shut * 1.0, false});
    run.run(6 * 3600, [&](int s) {
        if (s == at) kg = run.chance.uniform(3, 6);
        run.fridge.door_open = s >= at && s < shut;
        run.fridge.hot_load_w = kg > 0 ? loses_w_per_k * (water - run.fridge.air) : 0;
        if (kg > 0) water -= run.fridge.hot_load_w / (kg * water_j_per_kg_k);
        run.fridge.step();
        run.tips[0].touch(kg > 0 ? run.fridge.air + seen * (water - run.fridge.air) : run.fridge.air, in_air);
    });
    return run.out;
}

// Held open while the shopping is put away, and shut.
Scenario fridge_propped(std::uint64_t seed) {
    FridgeHands run("fridge-propped", seed);
    int const at = run.moment(3600, 5400), shut = at + run.moment(120, 420);
    run.out.truth.doors.push_back({at * 1.0, shut * 1.0, false});
    run.run(4 * 3600, [&](int s) {
        run.fridge.door_open = s >= at && s < shut;
        run.fridge.step();
        run.tips[0].touch(run.fridge.air, in_air);
    });
    return run.out;
}

// An induction plate that is turned low switches itself on and off; the tip stands near the bottom.
Scenario pulsing(std::uint64_t seed) {
    PotHands run("induction-pulses", seed);
    int const period = run.moment(8, 40);
    int const on_s = std::max(1, static_cast<int>(run.chance.uniform(0.2, 0.5) * period));
    double const share = static_cast<double>(on_s) / period, hotter_k = run.chance.uniform(0.3, 1.2);
    double near_bottom = 0;
    double const held = run.base_w;
    run.run(4200, [&](int s) {
        bool const on = s % period < on_s;
        run.base_w = on ? held / share : 0;
        run.simmer();
        near_bottom += ((on ? hotter_k / share : 0) - near_bottom) / 12;
        run.tips[0].touch(run.pot.celsius + near_bottom - hotter_k);
    });
    return run.out;
}

// Wine into a hot pan: it boils at once, and is taken off when it is done.
Scenario deglazed(std::uint64_t seed) {
    bool const held = seed % 2 == 0;
    Hands run("deglazed", seed, VesselKind::pot, std::nullopt);
    run.out.settings.vessels[0].liquid = Liquid::fat;  // as a pan is said to be
    if (held) run.out.settings.vessels[0].band = Band{{165}, {200}};
    double pan = run.chance.uniform(172, 192);
    run.tips[0].celsius = pan;
    int const at = run.moment(900, 1500), off = at + run.moment(60, 240);
    run.out.truth.allowed = {{"below-band", at + 10.0, 1e9}, {"heat-lost", off + 60.0, 1e9}};
    run.run(2700, [&](int s) {
        if (s >= at && s < off) pan = boils_at;
        if (s >= off) pan += (kitchen_air - pan) / 900;
        run.tips[0].touch(pan + 0.3 * run.chance.normal());
    });
    return run.out;
}

// A frozen piece into the stock: it warms, melts, and the flame is turned up for it after a minute or three.
Scenario frozen_piece(std::uint64_t seed) {
    PotHands run("frozen-piece", seed, std::pair{78.0, 94.0}, 90);
    double const kg = run.chance.uniform(0.03, 0.07) * run.pot.kg;
    double const to_melt = kg * (18 * ice_j_per_kg_k + ice_j_per_kg);
    double const watts = to_melt / run.chance.uniform(240, 600);
    int const at = run.moment(900, 1500), noticed = at + run.moment(60, 180);
    double left = 0;
    run.out.truth.may_tell = {{"topped-up", at * 1.0, at + 900.0}, {"food-added", at * 1.0, at + 900.0}};
    run.run(4800, [&](int s) {
        if (s == at) left = to_melt;
        if (left > 0) {
            run.pot.celsius -= watts / (run.pot.kg * water_j_per_kg_k + 900);
            left -= watts;
        }
        if (s > noticed)
            run.base_w = run.pot.power_to_hold(90) + 260 * std::clamp(90 - run.pot.celsius, 0.0, 4.0);
        run.simmer();
        run.tips[0].touch(run.pot.celsius);
    });
    return run.out;
}

// The plug is held in a hand: its contacts are warmer than the sensor beside them, and the value is lower by
// that (a thermocouple measures a difference).
Scenario warm_plug(std::uint64_t seed) {
    PotHands run("warm-plug", seed);
    int const at = run.moment(900, 1500), until = at + run.moment(20, 120);
    double const hand_k = run.chance.uniform(1, 3);
    double plug_k = 0;
    run.run(3000, [&](int s) {
        run.simmer();
        plug_k += ((s >= at && s < until ? hand_k : 0) - plug_k) / 25;
        run.tips[0].touch(run.pot.celsius);
    });
    // The pot's own temperature stays the truth; the instrument shows less.
    plug_k = 0;
    for (int s = 0; s < run.out.length_s(); ++s) {
        plug_k += ((s >= at && s < until ? hand_k : 0) - plug_k) / 25;
        auto& reading = run.out.readings[0][static_cast<std::size_t>(s)];
        if (reading)
            reading =
                Reading::good(second(s), std::round((reading->celsius() - plug_k) / run.step) * run.step);
    }
    return run.out;
}

// Gusts through the kitchen door blow the flame small, for a while each.
Scenario wind_on_flame(std::uint64_t seed) {
    PotHands run("wind-on-flame", seed);
    double const held = run.base_w, small = run.chance.uniform(0.2, 0.5);
    int gust_until = 0;
    run.run(5400, [&](int s) {
        if (s > 600 && s >= gust_until && run.chance.happens(1 / 400.0)) gust_until = s + run.moment(20, 90);
        // The cook has set it for what the wind leaves on average.
        run.base_w = s < gust_until ? small * held
                                    : held * (1 + 0.02 * std::clamp(85 - run.pot.celsius, 0.0, 4.0) * 4);
        run.simmer();
        run.tips[0].touch(run.pot.celsius);
    });
    return run.out;
}

// The strip that feeds the instrument is switched off and on again; its first values are those of its start.
Scenario power_strip(std::uint64_t seed) {
    PotHands run("power-strip", seed);
    int const off = run.moment(900, 1500), on = off + run.moment(8, 150);
    run.out.truth.allowed.push_back({"probe-silent", off * 1.0, on + 20.0});
    run.run(3000, [&](int) {
        run.simmer();
        run.tips[0].touch(run.pot.celsius);
    });
    auto& readings = run.out.readings[0];
    for (int s = off; s < on; ++s) readings[static_cast<std::size_t>(s)].reset();
    for (int s = on; s < on + run.moment(1, 3); ++s)
        readings[static_cast<std::size_t>(s)] = Reading::good(second(s), 0);
    return run.out;
}

// An hour of sun on a cold box: its walls and its room are warmer, its compressor runs more.
Scenario sun_on_box(std::uint64_t seed) {
    FridgeHands run("sun-on-cold-box", seed);
    int const at = run.moment(3600, 5400), gone = at + run.moment(2400, 4800);
    double const sun_k = run.chance.uniform(8, 18), shade = run.fridge.room;
    run.run(6 * 3600, [&](int s) {
        run.fridge.room += ((s >= at && s < gone ? shade + sun_k : shade) - run.fridge.room) / 600;
        run.fridge.step();
        run.tips[0].touch(run.fridge.air + 0.01 * (run.fridge.room - shade), in_air);
    });
    return run.out;
}

}  // namespace

std::vector<Kind> hands_nearby_kinds() {
    constexpr auto hands = Family::hands;
    return {
        {"cable-tugged", "half of the tip is pulled out of the pot for 10 to 60 s, twice", cable_tugged,
         hands},
        {"steam-on-oven-probe", "a neighbour's steam over an oven's tip for 20 to 90 s", steam_on_oven, hands,
         false},
        {"towel-on-lid", "a wet towel lies on the smoker's lid until it is dry", towel_on_lid, hands, false},
        {"pot-in-fridge", "3 to 6 kg of water at room temperature beside the fridge's probe", pot_in_fridge,
         hands, false},
        {"fridge-propped", "the fridge is held open for 2 to 7 min", fridge_propped, hands, false},
        {"induction-pulses", "the plate is on for a part of every 8 to 40 s", pulsing, hands, false},
        {"deglazed", "wine goes into a hot pan, boils, and the pan comes off", deglazed, hands},
        {"frozen-piece", "a frozen piece of 3 to 7 % goes into the stock", frozen_piece, hands, false},
        {"warm-plug", "the plug is held in a hand: the value is 1 to 3 K lower", warm_plug, hands, false},
        {"wind-on-flame", "wind blows the flame small, for 20 to 90 s each time", wind_on_flame, hands,
         false},
        {"power-strip", "the instrument loses its supply for 8 to 150 s, and begins at 0", power_strip, hands,
         false},
        {"sun-on-cold-box", "40 to 80 min of sun on the fridge", sun_on_box, hands, false}};
}

}  // namespace ingle::scenarios
