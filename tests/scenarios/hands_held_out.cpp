// Everyday handling that no threshold was chosen on: looked at only to judge.
#include <algorithm>

#include "tests/scenarios/hands.hpp"

namespace ingle::scenarios {
namespace {

Scenario rinsed(std::uint64_t seed) {
    PotHands run("rinsed", seed);
    int const at = run.moment(900, 1500), cold = at + 5, warm = cold + run.moment(4, 12),
              back = warm + run.moment(4, 12);
    run.out.truth.allowed.push_back({"probe-displaced", at * 1.0, back + 20.0});
    run.run(2700, [&](int s) {
        run.simmer();
        if (s < at || s >= back)
            run.tips[0].touch(run.pot.celsius);
        else if (s < cold)
            run.tips[0].touch(kitchen_air + 5, in_air);
        else
            run.tips[0].touch(s < warm ? 12 : 48, 0.8);
    });
    return run.out;
}

// Between the bottom and the surface, a few kelvin apart.
Scenario reseated(std::uint64_t seed) {
    PotHands run("re-seated", seed);
    double const apart = run.chance.uniform(0.8, 1.6);
    int const every = run.moment(500, 800);
    run.run(3600, [&](int s) {
        run.simmer();
        run.tips[0].touch(run.pot.celsius + (s / every % 2 ? apart : 0));
    });
    return run.out;
}

// A cold bag is pressed against the tip in a bath.
Scenario cold_bag(std::uint64_t seed) {
    Hands run("cold-bag", seed, VesselKind::bath, std::pair{58.0, 62.0});
    int const at = run.moment(900, 1500), until = at + run.moment(20, 70);
    double bag = 4;
    run.tips[0].celsius = 60;
    run.run(3000, [&](int s) {
        bag += (60 - bag) / 400;
        if (s == at) bag = 4;
        run.tips[0].touch(s >= at && s < until ? 60 + 0.35 * (bag - 60) : 60 + 0.1 * std::sin(s / 40.0));
    });
    return run.out;
}

Scenario basted(std::uint64_t seed) {
    Hands run("basted", seed, VesselKind::smoker, std::pair{85.0, 102.0});
    Smoker smoker;
    smoker.outside = 12;
    double const hold = smoker.power_to_hold(93.5);
    smoker.air = 93.5;
    smoker.wall = (0.55 * hold + 14 * smoker.air + 3.2 * smoker.outside) / (14 + 3.2);
    run.tips[0].celsius = smoker.air;
    Wander fire(0.04, 240), breeze(0.12, 60);
    int const at = run.moment(1500, 2400), open = run.moment(20, 60);
    run.out.truth.doors.push_back({at * 1.0, at + open * 1.0, false});
    run.run(5400, [&](int s) {
        smoker.fire_w = hold * (1 + fire.step(run.chance));
        smoker.wind = std::max(0.6, 1 + breeze.step(run.chance));
        smoker.door_open = s >= at && s < at + open;
        smoker.step();
        bool const wet = s >= at + open / 2 && s < at + open / 2 + 40;
        run.tips[0].touch(wet ? 0.6 * smoker.air + 0.4 * 20 : smoker.air, 1.5);
    });
    return run.out;
}

// An instrument that is read every 10 s goes into the pot, out of it for a moment, and back.
Scenario dipped_at_10_s(std::uint64_t seed) {
    PotHands run("dipped-at-10-s", seed);
    int const at = run.moment(100, 400), out = run.moment(1500, 1800), back = out + run.moment(10, 50);
    run.tips[0].celsius = kitchen_air;
    run.out.truth.allowed.push_back({"probe-displaced", out * 1.0, back + 60.0});
    run.run(
        3600,
        [&](int s) {
            run.simmer();
            bool const in = s >= at && (s < out || s >= back);
            in ? run.tips[0].touch(run.pot.celsius) : run.tips[0].touch(kitchen_air, in_air);
        },
        10);
    return run.out;
}

// Frozen pieces one after the other into a wide band, the flame up for them.
Scenario dumplings(std::uint64_t seed) {
    PotHands run("one-after-another", seed, std::pair{78.0, 94.0}, 90);
    int const first = run.moment(900, 1200), apart = run.moment(40, 120);
    run.out.truth.may_tell = {{"topped-up", first * 1.0, first + 1800.0},
                              {"food-added", first * 1.0, first + 1800.0}};
    run.run(4200, [&](int s) {
        for (int i = 0; i < 6; ++i)
            if (s == first + i * apart) run.pot.celsius -= run.chance.uniform(0.4, 0.9);
        run.base_w = run.pot.power_to_hold(90) + 90 * std::clamp(90 - run.pot.celsius, 0.0, 4.0);
        run.simmer();
        run.tips[0].touch(run.pot.celsius);
    });
    return run.out;
}

}  // namespace

std::vector<Kind> hands_held_out_kinds() {
    constexpr auto hands = Family::hands;
    return {{"rinsed", "taken out, rinsed cold and warm, put back", rinsed, hands},
            {"re-seated", "moved within the pot, between places 0.8 to 1.6 K apart", reseated, hands, false},
            {"cold-bag", "a cold bag against the tip in a bath, for 20 to 70 s", cold_bag, hands},
            {"basted", "the smoker is opened and the tip gets wet", basted, hands},
            {"dipped-at-10-s", "dipped and lifted; a reading every 10 s", dipped_at_10_s, hands},
            {"one-after-another", "six cold pieces, one after another", dumplings, hands, false}};
}

}  // namespace ingle::scenarios
