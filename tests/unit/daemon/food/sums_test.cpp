// The small sums of a core, each by hand: danger zone, lethality, what the hazards depend on, the rhythm of a
// probe, and what a phase means.
#include <cmath>

#include "daemon/food/core_track.hpp"
#include "daemon/food/hazard_watch.hpp"
#include "daemon/food/lethality.hpp"
#include "daemon/food/phase.hpp"
#include "daemon/food/trichinella.hpp"
#include "tests/support/catch.hpp"

using namespace ingle;

namespace {

constexpr double hour = 3600;

Cadence rhythm(std::initializer_list<double> intervals) {
    Cadence cadence;
    for (double const s : intervals) cadence.add(s);
    return cadence;
}

}  // namespace

// USDA: at most 2 h in all between 40 and 140 degF, 1 h in air above 90 degF.
TEST_CASE("the danger zone: more than two hours idle, or one in a hot room, is too long") {
    auto const idle = [](double s, bool hot_room, bool read = true) {
        DangerZone zone(danger_zones().front());
        zone.add({0, 20, s, 20, !read}, Care::none, hot_room);
        return zone;
    };
    CHECK_FALSE(idle(2 * hour, false).idle_too_long());
    CHECK(idle(2 * hour + 1, false).idle_too_long());
    CHECK_FALSE(idle(2 * hour, false).idle_surely_too_long());
    CHECK(idle(2 * hour + 1, false).idle_surely_too_long());
    CHECK_FALSE(idle(2 * hour + 1, false, false).idle_surely_too_long());
    CHECK(idle(2 * hour + 1, false, false).idle_too_long());
    CHECK_FALSE(idle(hour, true).idle_too_long());
    CHECK(idle(hour + 1, true).idle_too_long());
    CHECK_FALSE(idle(hour, true).idle_hot_too_long());
    CHECK(idle(hour + 1, true).idle_hot_too_long());
    CHECK_FALSE(idle(hour + 1, false).idle_hot_too_long());
    DangerZone zone(danger_zones().front());
    zone.add({0, 20, hour, 20}, Care::heated);
    zone.add({hour, 20, 2 * hour, 20}, Care::cooled);
    zone.add({2 * hour, 61, 3 * hour, 61}, Care::none);
    zone.add({3 * hour, 4, 4 * hour, 4}, Care::none);
    CHECK(zone.measured_s() == 2 * hour);
    CHECK(zone.heated_possible_s() == hour);
    CHECK(zone.idle_possible_s() == 0);
    zone.cooling_over(false);  // it came to nothing
    CHECK(zone.idle_possible_s() == hour);
    CHECK(zone.idle_measured_s() == hour);
    zone.cooling_over(false);
    CHECK(zone.idle_possible_s() == hour);
    zone.nothing_seen_until(3 * hour);
    CHECK(zone.possible_s() == 3 * hour);
    CHECK(zone.heated_possible_s() == 2 * hour);
    zone.nothing_seen_until(hour);
    CHECK(zone.possible_s() == 3 * hour);
    CHECK(zone.heated_possible_s() == 2 * hour);
}

TEST_CASE("lethal seconds are the integral of the rate, within the range of the source") {
    LogLinear const model{60, 60, 10, 62, 65};
    auto const integral = [](double from, double to, double seconds) {
        double sum = 0;
        for (int i = 0; i < 10000; ++i)
            sum += std::pow(10, (from + (to - from) * (i + 0.5) / 10000 - 60) / 10) * seconds / 10000;
        return sum;
    };
    // 60 to 64 degC in 40 s: the last 20 s count. 63 to 67 degC in 40 s: 20 s as they are, 20 s as if at 65
    // degC.
    CHECK_THAT(lethal_seconds(model, {0, 60, 40, 64}), WithinAbs(integral(62, 64, 20), 1e-3));
    CHECK_THAT(lethal_seconds(model, {0, 64, 40, 60}), WithinAbs(integral(62, 64, 20), 1e-3));
    CHECK_THAT(lethal_seconds(model, {0, 63, 40, 67}),
               WithinAbs(integral(63, 65, 20) + 20 * std::pow(10, 0.5), 1e-3));
    CHECK_THAT(lethal_seconds(model, {0, 66, 40, 70}), WithinAbs(40 * std::pow(10, 0.5), 1e-3));
    CHECK_THAT(lethal_seconds(model, {0, 70, 40, 70}), WithinAbs(40 * std::pow(10, 0.5), 1e-3));
    CHECK_THAT(lethal_seconds(model, {0, 62, 40, 62}), WithinAbs(40 * std::pow(10, 0.2), 1e-9));
    CHECK(lethal_seconds(model, {0, 61.99, 40, 61.99}) == 0);
    CHECK(lethal_seconds(model, {0, 50, 40, 61}) == 0);
    CHECK(lethal_seconds(model, {0, 64, 40, 64, true}) == 0);
    CHECK_THAT(lethal_seconds(model, {0, 64, 40, 64 + 1e-12}), WithinAbs(40 * std::pow(10, 0.4), 1e-6));
    CHECK_THAT(d_value_s(model, 70), WithinAbs(6, 1e-9));
    CHECK_THAT(lethal_seconds_trapezoid(model, {0, 60, 40, 70}), WithinAbs(40 * (1 + 10) / 2.0, 1e-9));
    CHECK(lethal_seconds_trapezoid(model, {0, 60, 40, 70, true}) == 0);
}

// FSIS Cooking Guideline 2021: at most 6 h between 50 and 130 degF on the way up.
TEST_CASE(
    "nothing is credited after more than six hours between 50 and 130 degF, unless it was lethal before") {
    auto const& meat = *food_class("whole-meat");
    double const c158 = from_fahrenheit(158);
    auto const slow = [&](double warm_s) {
        Lethality sum(meat);
        sum.add({0, 8, 1800, 8});  // colder than 50 degF
        sum.add({1800, 30, 1800 + warm_s, 30});
        sum.add({1800 + warm_s, c158, 1860 + warm_s, c158});
        return sum;
    };
    CHECK(slow(6 * hour).within_conditions());
    CHECK(*slow(6 * hour).credited_log10() == 7);  // at once by each column
    CHECK_FALSE(slow(6 * hour + 1).within_conditions());
    CHECK(*slow(6 * hour + 1).credited_log10() == 0);
    CHECK(slow(hour).come_up_s() == hour);
    auto after = slow(hour);
    after.add({3 * hour, 30, 10 * hour, 30});
    CHECK(after.come_up_s() == hour);
    CHECK(*after.credited_log10() == 7);
    Lethality warm(meat);
    warm.add({0, from_fahrenheit(51), 60, from_fahrenheit(51)});
    warm.add({60, from_fahrenheit(129), 120, from_fahrenheit(129)});
    warm.add({120, from_fahrenheit(49), 180, from_fahrenheit(49)});
    warm.add({180, from_fahrenheit(131), 240, from_fahrenheit(131)});
    CHECK(warm.come_up_s() == 120);
    // Each column of the table: at 145 degF 3, 4 and 4 min for 5, 6.5 and 7 log10 by its printed rows.
    auto const held = [&](double seconds, int f = 150) {
        Lethality sum(meat);
        sum.add({0, from_fahrenheit(f), seconds, from_fahrenheit(f)});
        return *sum.credited_log10();
    };
    double const s5 = fsis_meat(150, 5)->seconds(), s65 = fsis_meat(150, 6.5)->seconds(),
                 s7 = fsis_meat(150, 7)->seconds();
    CHECK(held(s5 - 0.5) == 0);
    CHECK(held(s5) == 5);
    CHECK(held(s65 - 0.5) == 5);
    CHECK(held(s65) == 6.5);
    CHECK(held(s7) == 7);
    CHECK_FALSE(Lethality(*food_class("fish")).credited_log10());
    CHECK_FALSE(Lethality(*food_class("fish")).computed_log10());
}

TEST_CASE("time at or above a whole degree Fahrenheit, also across degrees") {
    Lethality sum(*food_class("whole-meat"));
    sum.add({0, from_fahrenheit(129), 60, from_fahrenheit(133)});  // 15 s a degree
    CHECK_THAT(sum.seconds_at_or_above(130), WithinAbs(45, 1e-3));
    CHECK_THAT(sum.seconds_at_or_above(131), WithinAbs(30, 1e-3));
    CHECK_THAT(sum.seconds_at_or_above(132), WithinAbs(15, 1e-3));
    CHECK_THAT(sum.seconds_at_or_above(133), WithinAbs(0, 1e-3));
    CHECK_THAT(sum.seconds_at_or_above(100), WithinAbs(45, 1e-3));
    sum.add({60, from_fahrenheit(133), 120, from_fahrenheit(133)});
    CHECK_THAT(sum.seconds_at_or_above(133), WithinAbs(60, 1e-3));
    CHECK_THAT(sum.seconds_at_or_above(134), WithinAbs(0, 1e-3));
    sum.add({120, from_fahrenheit(163), 180, from_fahrenheit(175)});  // 5 s a degree
    CHECK_THAT(sum.seconds_at_or_above(164), WithinAbs(55, 1e-3));
    CHECK_THAT(sum.seconds_at_or_above(165), WithinAbs(50, 1e-3));
    sum.add({180, from_fahrenheit(128), 240, from_fahrenheit(129.9)});
    sum.add({240, from_fahrenheit(170), 300, from_fahrenheit(170), true});
    CHECK_THAT(sum.seconds_at_or_above(130), WithinAbs(165, 1e-3));
    sum.add({300, from_fahrenheit(170), 360, from_fahrenheit(170)});
    CHECK_THAT(sum.seconds_at_or_above(165), WithinAbs(110, 1e-3));
}

TEST_CASE(
    "the hazards' sums: warm before it was cooked, unread where it is to be cold, the hottest of the "
    "smoker") {
    HazardWatch watch(2);
    double const c165 = from_fahrenheit(165);
    watch.core(0, {0, from_fahrenheit(49), 60, from_fahrenheit(49)}, c165);
    watch.core(0, {60, from_fahrenheit(51), 120, from_fahrenheit(51)}, c165);
    watch.core(0, {120, from_fahrenheit(129), 180, from_fahrenheit(129)}, c165);
    watch.core(0, {180, from_fahrenheit(131), 240, from_fahrenheit(131)}, c165);
    CHECK(watch.warm_possible_s() == 120);
    watch.core(1, {0, 20, 100, 20}, c165);
    CHECK(watch.warm_possible_s() == 120);  // the worst of both
    watch.core(1, {100, 20, 200, 20}, c165);
    CHECK(watch.warm_possible_s() == 200);
    watch.core(2, {0, 20, 900, 20}, c165);  // no such core
    CHECK(watch.warm_possible_s() == 200);
    watch.core(1, {200, c165, 260, c165 - 1e-9}, c165);  // there, to the rounding: cooked
    watch.core(1, {260, 40, 900, 40}, c165);
    CHECK(watch.warm_possible_s() == 200);
    watch.core(0, {240, c165, 300, c165 - 0.1}, c165);  // not there
    watch.core(0, {300, 40, 400, 40}, c165);
    CHECK(watch.warm_possible_s() == 220);

    watch.medium(100);
    CHECK_FALSE(watch.smoker_high_c());
    watch.put_in(VesselKind::smoker);
    watch.medium(80);
    watch.medium(70);
    CHECK(watch.smoker_high_c() == 80);
    watch.put_in(VesselKind::room);
    watch.medium(120);
    CHECK(watch.smoker_high_c() == 80);
    CHECK(watch.smoked());

    HazardWatch cold(1);
    CHECK(cold.unread_cold_s(5000, true) == 0);  // never read: no power cut can be told
    cold.read(100, true);
    CHECK(cold.unread_cold_s(100, true) == 100);
    CHECK(cold.unread_cold_s(400, true) == 300);
    CHECK(cold.unread_cold_s(400, false) == 100);
    cold.read(1000, false);
    CHECK(cold.unread_cold_s(1000, true) == 100);
    cold.read(1500, true);
    CHECK(cold.unread_cold_s(1500, true) == 500);
    cold.lose_track(false);
    CHECK(cold.unread_cold_s(1500, true) == 500);
    cold.lose_track(true);
    CHECK(cold.unread_cold_s(1500, true) >= 300 * 86400.0);
    HazardWatch fresh(1);
    fresh.lose_track(true);
    CHECK(fresh.unread_cold_s(10, true) == 0);
}

TEST_CASE("three of a probe's own intervals are no gap, up to a reading in five minutes") {
    CHECK(rhythm({}).longest_s(60) == 60);
    CHECK(rhythm({100, 100}).longest_s(60) == 60);  // too few to know
    CHECK(rhythm({100, 100, 100}).longest_s(60) == 300);
    CHECK(rhythm({10, 10, 10}).longest_s(60) == 60);
    CHECK(rhythm({400, 400, 400, 400}).longest_s(60) == 900);     // believed no slower than 300 s
    CHECK(rhythm({30, 30, 5000, 30, 5000}).longest_s(60) == 90);  // what fails is not its rhythm
    // Of nine intervals the one in the middle, and the tenth takes the place of the first.
    CHECK(rhythm({100, 100, 100, 100, 50, 50, 50, 50, 50}).longest_s(60) == 150);
    CHECK(rhythm({100, 100, 100, 100, 100, 50, 50, 50, 50}).longest_s(60) == 300);
    CHECK(rhythm({100, 100, 100, 100, 100, 50, 50, 50, 50, 50}).longest_s(60) == 150);
    Cadence many;
    for (int i = 0; i < 100; ++i) many.add(100);
    CHECK(many.longest_s(60) == 300);
    for (int i = 0; i < 5; ++i) many.add(50);
    CHECK(many.longest_s(60) == 150);
}

// The steepest of the series solution of a sphere: 5.9 a dT / R^2 with a = 1.5e-7 m2/s; 130 K in the
// heat, since what is moist is never hotter than boiling water, 60 K in the cold.
TEST_CASE("a thick core is slower than a thin one, and slower still in the cold") {
    CHECK(fastest_core({}, FoodPhase::cooking) == fastest_core_k_per_s);
    CHECK(fastest_core(Length{0}, FoodPhase::cooking) == fastest_core_k_per_s);
    CHECK_THAT(fastest_core(Length{0.1}, FoodPhase::cooking), WithinAbs(5.9 * 1.5e-7 * 130 / 0.0025, 1e-12));
    CHECK_THAT(fastest_core(Length{0.1}, FoodPhase::chilling), WithinAbs(5.9 * 1.5e-7 * 60 / 0.0025, 1e-12));
    CHECK(fastest_core(Length{0.01}, FoodPhase::cooking) == fastest_core_k_per_s);
}

TEST_CASE("what a stage means for the food") {
    Temperature const c15{15}, c16{16};
    CHECK(food_phase({}, VesselKind::oven, c15) == FoodPhase::chilling);  // what ends so cold was chilled
    CHECK(food_phase({}, VesselKind::oven, c16) == FoodPhase::cooking);
    CHECK(food_phase({}, VesselKind::fridge, Temperature{50}) == FoodPhase::chilling);
    CHECK(food_phase({}, {}, c16) == FoodPhase::cooking);
    CHECK(food_phase({}, {}, {}) == FoodPhase::waiting);
    CHECK(food_phase({}, VesselKind::fridge, {}) == FoodPhase::cold_holding);
    CHECK(food_phase({}, VesselKind::hot_box, {}) == FoodPhase::hot_holding);
    CHECK(food_phase({}, VesselKind::room, {}) == FoodPhase::waiting);
    for (auto const kind : {VesselKind::pot, VesselKind::bath, VesselKind::smoker, VesselKind::oven})
        CHECK(food_phase({}, kind, {}) == FoodPhase::cooking);
    struct Meaning {
        Does does;
        FoodPhase phase;
        bool cold, heated, heats, held_cold;
    };
    for (auto const& row : {Meaning{Does::cook, FoodPhase::cooking, false, true, true, false},
                            Meaning{Does::reheat, FoodPhase::reheating, false, true, true, false},
                            Meaning{Does::hot_hold, FoodPhase::hot_holding, false, false, true, false},
                            Meaning{Does::rest, FoodPhase::resting, false, false, false, false},
                            Meaning{Does::chill, FoodPhase::chilling, true, false, false, false},
                            Meaning{Does::brine, FoodPhase::brining, true, false, false, true},
                            Meaning{Does::cold_hold, FoodPhase::cold_holding, true, false, false, true},
                            Meaning{Does::thaw, FoodPhase::thawing, true, false, true, true}}) {
        INFO(to_word(row.phase));
        CHECK(food_phase(row.does, VesselKind::pot, {}) == row.phase);
        CHECK(is_cold_phase(row.phase) == row.cold);
        CHECK(is_heated(row.phase) == row.heated);
        CHECK(heats_core(row.phase) == row.heats);
        CHECK(is_held_cold(row.phase) == row.held_cold);
        CHECK(to_word(row.phase) == to_word(row.does));
    }
    CHECK(is_cold_phase(FoodPhase::waiting));
    CHECK_FALSE(is_heated(FoodPhase::waiting));
    CHECK_FALSE(is_held_cold(FoodPhase::waiting));
}

TEST_CASE("the historic pork table is for whole pork and ham only") {
    for (auto const& food : food_classes()) {
        bool const pork = food.name == "fresh-ham" || food.name == "cured-ham" || food.name == "whole-meat";
        INFO(food.name);
        auto const found = trichinella_heating(food, from_fahrenheit(144));
        CHECK((found.answer == TrichinellaAnswer::covered) == pork);
        CHECK(found.minutes == 0);
    }
    auto const& ham = *food_class("fresh-ham");
    CHECK(trichinella_heating(ham, from_fahrenheit(131)).minutes == 30);  // the row at or below
    CHECK(trichinella_heating(ham, from_fahrenheit(120) - 1e-9).minutes == 1260);
}
