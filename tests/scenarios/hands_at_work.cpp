// Hands at the pots, the smoker and the fridge: stirring, lids, burners, meals that are done. Nothing is
// wrong.
#include <algorithm>

#include "tests/scenarios/hands.hpp"

namespace ingle::scenarios {
namespace {

Scenario stirred(std::uint64_t seed) {
    PotHands run("stirred", seed);
    Wander eddies(1.2, 3);
    int const every = run.moment(300, 600), for_s = run.moment(15, 60);
    run.run(3600, [&](int s) {
        run.simmer();
        double const eddy = eddies.step(run.chance);
        run.tips[0].touch(run.pot.celsius + (s > 300 && s % every < for_s ? eddy - 0.4 : 0));
    });
    return run.out;
}

Scenario ingredients(std::uint64_t seed) {
    PotHands run("ingredients", seed);
    int const at = run.moment(900, 1500);
    run.out.truth.may_tell = {{"topped-up", at * 1.0, at + 600.0}, {"food-added", at * 1.0, at + 600.0}};
    run.run(4200, [&](int s) {
        if (s == at) {
            double const cold = run.chance.uniform(0.02, 0.05) * run.pot.kg;
            run.pot.celsius = (run.pot.celsius * run.pot.kg + 8 * cold) / (run.pot.kg + cold);
            run.pot.kg += cold;
        }
        if (s > at) run.base_w = run.pot.power_to_hold(85) + 120 * std::clamp(85 - run.pot.celsius, 0.0, 4.0);
        run.simmer();
        double const plume = s >= at ? -12 * std::exp(-(s - at) / 6.0) : 0;
        run.tips[0].touch(run.pot.celsius + plume);
        if (run.pot.celsius < poached.first) run.out.truth.allowed = {{"below-band", at + 10.0, s + 60.0}};
    });
    return run.out;
}

// On, half off, off; each time the flame is trimmed, not quite right, and the lid drips.
Scenario lid(std::uint64_t seed) {
    PotHands run("lid-on-and-off", seed);
    double const aim = run.pot.celsius;
    Pot closed = run.pot;
    closed.lid = true;
    double share = 0;  // of the opening that the lid covers
    std::array<std::pair<int, double>, 4> const moves{{{700, 1}, {1500, 0.5}, {2300, 0}, {3000, 1}}};
    int dripped = -100;
    run.run(3900, [&](int s) {
        for (auto const& [at, covered] : moves)
            if (s == at) {
                share = covered;
                dripped = s;
                run.base_w = (share * closed.power_to_hold(aim) + (1 - share) * run.pot.power_to_hold(aim)) *
                             run.chance.uniform(0.96, 1.04);
            }
        // The pot's own loss is that of the open one; what the lid saves is given back as heat.
        double const saved = share * (run.pot.loss_w(run.pot.celsius) - closed.loss_w(run.pot.celsius));
        double const flame = run.base_w;
        run.base_w += saved;
        run.simmer();
        run.base_w = flame;
        run.tips[0].touch(run.pot.celsius - (s - dripped < 4 ? 3 : 0));
    });
    return run.out;
}

Scenario off_burner(std::uint64_t seed) {
    PotHands run("off-the-burner", seed, std::pair{79.0, 90.0});
    double const kept = run.base_w;
    int const at = run.moment(900, 1500), back = at + run.moment(40, 150);
    run.out.truth.allowed.push_back({"heat-lost", at * 1.0, back + 60.0});
    run.run(3600, [&](int s) {
        bool const cold = s > back && run.pot.celsius < 84.5;
        run.base_w = s >= at && s < back ? 0 : cold ? 1.25 * kept : kept;
        run.simmer();
        run.tips[0].touch(run.pot.celsius);
    });
    return run.out;
}

Scenario poured_out(std::uint64_t seed) {
    PotHands run("poured-out", seed);
    int const at = run.moment(900, 1500);
    run.out.truth.allowed = {{"probe-displaced", at * 1.0, 1e9}, {"below-band", at + 15.0, 1e9}};
    run.run(2700, [&](int s) {
        run.simmer();
        if (s < at)
            run.tips[0].touch(run.pot.celsius);
        else  // an empty pot that is still warm
            run.tips[0].touch(kitchen_air + 25 * std::exp(-(s - at) / 240.0), in_air);
    });
    return run.out;
}

// The cook says that nothing is held any more, and turns the burner off; later the probe is washed.
Scenario meal_done(std::uint64_t seed) {
    PotHands run("meal-done", seed);
    int const said = run.moment(900, 1500), off = said + run.moment(0, 60), washed = off + 1500;
    run.out.commands.push_back({said, Hold{0, std::nullopt}});
    run.run(4200, [&](int s) {
        if (s >= off) run.base_w = 0;
        run.simmer();
        if (s < washed)
            run.tips[0].touch(run.pot.celsius);
        else if (s < washed + 12)
            run.tips[0].touch(42);
        else
            run.tips[0].touch(kitchen_air, in_air);
    });
    return run.out;
}

Scenario smoker_lit(std::uint64_t seed) {
    Hands run("cold-smoker-lit", seed, VesselKind::smoker, std::pair{85.0, 102.0});
    Smoker smoker;
    smoker.outside = run.chance.uniform(-2, 15);
    smoker.air = smoker.wall = run.tips[0].celsius = smoker.outside;
    double const hold = smoker.power_to_hold(93);
    Wander fire(0.05, 240), breeze(0.12, 60);
    int const fed = run.moment(600, 900), fed_again = run.moment(1300, 1700), open = run.moment(15, 50);
    for (int const at : {fed, fed_again}) run.out.truth.doors.push_back({at * 1.0, at + open * 1.0, false});
    run.run(7200, [&](int s) {
        double const caught = std::clamp(s / 300.0, 0.0, 1.0);  // kindling first
        smoker.fire_w = (smoker.air < 91 ? 1.9 : 1.0) * hold * caught * (1 + fire.step(run.chance));
        smoker.wind = std::max(0.6, 1 + breeze.step(run.chance));
        smoker.door_open = (s >= fed && s < fed + open) || (s >= fed_again && s < fed_again + open);
        smoker.step();
        run.tips[0].touch(smoker.air, 1.5);
    });
    return run.out;
}

// The food is turned and looked at; nothing goes in.
Scenario opened_thrice(std::uint64_t seed) {
    Hands run("opened-thrice", seed, VesselKind::smoker, std::pair{85.0, 102.0});
    run.tips[0].tau_s = std::min(run.tips[0].tau_s, 9.0);  // in the air a slower one does not see a door
    Smoker smoker;
    smoker.outside = run.chance.uniform(2, 18);
    double const hold = smoker.power_to_hold(94);
    smoker.air = run.tips[0].celsius = 94;
    smoker.wall = (0.55 * hold + 14 * smoker.air + 3.2 * smoker.outside) / (14 + 3.2);
    Wander fire(0.04, 240), breeze(0.12, 60);
    double opened = run.moment(1800, 2400);
    for (int i = 0; i < 3; ++i) {
        run.out.truth.doors.push_back({opened, opened + run.moment(30, 80), false});
        opened += run.moment(240, 480);
    }
    run.run(7200, [&](int s) {
        smoker.fire_w = hold * (1 + fire.step(run.chance));
        smoker.wind = std::max(0.6, 1 + breeze.step(run.chance));
        smoker.door_open = std::ranges::any_of(
            run.out.truth.doors, [s](Door const& d) { return s >= d.opened_s && s < d.closed_s; });
        smoker.step();
        run.tips[0].touch(smoker.air);
    });
    return run.out;
}

Scenario fridge_filled(std::uint64_t seed) {
    Hands run("fridge-filled", seed, VesselKind::fridge, std::pair{0.0, 6.5});
    Fridge fridge;
    fridge.room = run.chance.uniform(18, 24);
    for (int s = 0; s < 20'000; ++s) fridge.step();
    run.tips[0].celsius = fridge.air;
    double load = run.chance.uniform(25, 45), kg = 0;
    int const at = run.moment(3600, 5400), shut = at + run.moment(60, 200);
    run.out.truth.doors.push_back({at * 1.0, shut * 1.0, false});
    run.run(6 * 3600, [&](int s) {
        if (s == (at + shut) / 2) kg = run.chance.uniform(1, 3);
        fridge.door_open = s >= at && s < shut;
        fridge.hot_load_w = 0.9 * kg * (load - fridge.air);
        if (kg > 0) load -= fridge.hot_load_w / (kg * 3600);
        fridge.step();
        run.tips[0].touch(fridge.air, in_air);
    });
    return run.out;
}

}  // namespace

std::vector<Kind> hands_at_work_kinds() {
    constexpr auto hands = Family::hands;
    return {{"stirred", "a pot is stirred every few minutes", stirred, hands},
            {"ingredients", "2 to 5 % of cold things go in, past the tip", ingredients, hands},
            {"lid-on-and-off", "lid on, half off, off, on; the flame trimmed each time", lid, hands},
            {"off-the-burner", "the pot stands beside its burner for 40 to 150 s", off_burner, hands},
            {"poured-out", "the pot is poured out and the probe left in it", poured_out, hands},
            {"meal-done", "the cook stops holding, then turns the burner off", meal_done, hands},
            {"cold-smoker-lit", "a smoker is lit from cold and fed twice on the way", smoker_lit, hands},
            {"opened-thrice", "a smoker is opened three times in a quarter of an hour", opened_thrice, hands},
            {"fridge-filled", "1 to 3 kg of warm food go into the fridge", fridge_filled, hands}};
}

}  // namespace ingle::scenarios
