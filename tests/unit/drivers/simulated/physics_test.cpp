// The simulated kitchen against hand calculations, published solutions and its own energy balance.
#include <cmath>

#include "drivers/simulated/enclosure.hpp"
#include "drivers/simulated/food.hpp"
#include "drivers/simulated/pot.hpp"
#include "tests/support/catch.hpp"

using namespace ingle::simulated;

namespace {

Air const room{22, 0.5, 101325};

// A pot that loses heat through its surface only, with the burner already up.
Pot bare_pot(double celsius, double watts) {
    Pot pot;
    pot.metal = pot.wall_loss = 0;
    pot.celsius = celsius;
    pot.flame = pot.burner = watts;
    return pot;
}

}  // namespace

TEST_CASE("the vapour pressure of water is the steam table's") {
    // IAPWS R7-97(2012), table 35: 300 K; and the normal boiling point on ITS-90, 99.974 degC.
    CHECK_THAT(vapour_pressure(26.85), WithinRel(3536.58941, 0.005));
    CHECK_THAT(boiling_temperature(101325), WithinAbs(99.974, 0.05));
    // US Standard Atmosphere at 2000 m, 79495 Pa: 93.3 degC.
    CHECK_THAT(boiling_temperature(79495.2), WithinAbs(93.3, 0.1));
    // Latent heat in the steam table: 2257 kJ/kg at 100 degC, 2454 at 20.
    CHECK_THAT(latent_heat(100), WithinRel(2257e3, 0.005));
    CHECK_THAT(latent_heat(20), WithinRel(2454e3, 0.005));
}

TEST_CASE("an open pot loses what the hand calculation says") {
    // Room 22 degC, 50 %; worked with the Lewis relation and Stefan flow on psychrometric tables, h 6,
    // emissivity 0.95: degC, kg/(m2 h), W/m2 latent, W/m2 by convection and radiation.
    double const rows[][4] = {{60, 2.98, 1951, 483},   {70, 5.09, 3300, 626},  {80, 8.75, 5621, 777},
                              {82.2, 9.92, 6358, 811}, {85, 11.7, 7487, 856},  {87.8, 14.0, 8911, 900},
                              {90, 16.3, 10336, 936},  {93, 20.5, 12998, 985}, {95, 24.7, 15609, 1019}};
    for (auto const& [celsius, mass, latent, dry] : rows) {
        auto const loss = open_surface(celsius, room);
        INFO(celsius << " degC");
        CHECK_THAT(loss.evaporation * 3600, WithinRel(mass, 0.05));
        CHECK_THAT(loss.latent, WithinRel(latent, 0.05));
        CHECK_THAT(loss.dry, WithinRel(dry, 0.02));
    }
}

TEST_CASE("four kilograms on a kilowatt rise as fast as the energy balance says") {
    // (1000 - 323) W / (4 kg x 4186 J/(kg K)) = 0.0404 K/s at 82.2 degC.
    auto pot = bare_pot(82.2, 1000);
    for (int i = 0; i < 20; ++i) pot.step(0.5, room, 0);
    CHECK_THAT((pot.celsius - 82.2) / 10, WithinRel(0.0404, 0.05));
}

TEST_CASE("a flame ends at the temperature where the surface loses as much") {
    // From the same table: 500 W net ends near 90 degC, 750 W near 95.
    for (auto [watts, end] : {std::pair{507.0, 90.0}, {748.0, 95.0}}) {
        auto pot = bare_pot(80, watts);
        for (int i = 0; i < 8 * 3600; ++i) {
            pot.step(1, room, 0);
            pot.water = 4;
        }
        CHECK_THAT(pot.celsius, WithinAbs(end, 0.6));
    }
}

TEST_CASE("boiling holds the temperature and makes steam until the pot is dry") {
    Pot pot;
    pot.water = 0.4;
    pot.celsius = 95;
    pot.flame = pot.burner = 3000;
    for (int i = 0; i < 60; ++i) pot.step(1, room, 0);
    double const plateau = pot.celsius;
    CHECK_THAT(plateau, WithinAbs(99.97, 0.1));
    double const before = pot.water;
    for (int i = 0; i < 60; ++i) pot.step(1, room, 0);
    CHECK_THAT(pot.celsius, WithinAbs(plateau, 0.01));
    // All that the dry losses leave of 3000 W becomes steam: 60 s x (2000 - 0.045 x 1098 - 2 x 78) / 2.257
    // MJ/kg.
    CHECK_THAT(before - pot.water, WithinRel(60 * (3000 - 0.045 * 1098 - 156) / 2.257e6, 0.03));
    for (int i = 0; i < 600; ++i) pot.step(1, room, 0);
    CHECK(pot.water == 0);
    CHECK(pot.celsius > 120);
}

TEST_CASE("no heat is made or lost in a pot") {
    Pot pot;
    pot.celsius = 60;
    pot.flame = 3500;
    double const start = pot.enthalpy();
    for (int i = 0; i < 3 * 3600; ++i) {  // through the boil
        if (i == 1500) {
            CHECK_THAT(pot.celsius, WithinAbs(boiling_temperature(room.pascals), 1e-6));
            pot.flame = 1800;
        }
        if (i == 4000) pot.pour_in(1, 15);
        if (i == 6000) pot.flame = 200;
        pot.step(1, room, 120 * std::exp(-i / 3000.0));
    }
    CHECK_THAT(pot.enthalpy() - start, WithinAbs(pot.heat_in - pot.heat_out, 1e-6 * pot.heat_in));
    CHECK(pot.heat_in > 5e6);
}

TEST_CASE("an enclosure settles where its losses balance, and conserves heat") {
    Enclosure smoker{.air = 20, .wall = 20};
    double const start = smoker.enthalpy();
    for (int i = 0; i < 12 * 7200; ++i) smoker.step(0.5, 8, 500, 0);
    // By hand: 2 W/K by the leak and 12 x 6 / 18 = 4 W/K by the wall, so 500 W hold 83.33 K above 8 degC.
    CHECK_THAT(smoker.air, WithinAbs(8 + 500.0 / 6, 0.05));
    CHECK_THAT(smoker.wall, WithinAbs(8 + 500.0 / 6 * 4 / 6, 0.05));
    CHECK_THAT(smoker.enthalpy() - start, WithinAbs(smoker.heat_in - smoker.heat_out, 1e-6 * smoker.heat_in));

    smoker.door_open = true;
    for (int i = 0; i < 100; ++i) smoker.step(0.5, 8, 500, 0);
    double const open = smoker.air;
    CHECK(open < 60);
    smoker.door_open = false;
    for (int i = 0; i < 1200; ++i) smoker.step(0.5, 8, 500, 0);
    CHECK(smoker.air > open + 15);  // the walls are still hot
}

TEST_CASE("a thermostat switches at its ends and stays between") {
    Thermostat oven{199, 208};
    CHECK(oven.heat(190));
    CHECK(oven.heat(205));
    CHECK_FALSE(oven.heat(208));
    CHECK_FALSE(oven.heat(200));
    Thermostat fridge{1.5, 4.5};
    CHECK(fridge.cool(5));
    CHECK(fridge.cool(2));
    CHECK_FALSE(fridge.cool(1.4));
    CHECK_FALSE(fridge.cool(3));
}

TEST_CASE("conduction follows the series solutions of Carslaw and Jaeger") {
    // Share of the first difference that is left at Fo = alpha t / R2 (60 terms; first roots and coefficients
    // equal the printed tables of the heat transfer textbooks): form, Bi, Fo, centre, surface.
    struct Case {
        Form form;
        double bi, fo, centre, surface;
    };
    Case const cases[] = {
        {Form::slab, 1, 0.1, 0.993108, 0.723577},      {Form::slab, 1, 1, 0.533859, 0.348177},
        {Form::slab, 10, 0.2, 0.829255, 0.122482},     {Form::slab, 10, 0.5, 0.454641, 0.064329},
        {Form::cylinder, 1, 0.2, 0.870174, 0.570228},  {Form::cylinder, 10, 0.1, 0.900080, 0.131622},
        {Form::cylinder, 10, 0.5, 0.145800, 0.017758}, {Form::sphere, 1, 0.5, 0.370777, 0.236050},
        {Form::sphere, 10, 0.1, 0.795759, 0.097521},   {Form::sphere, 10, 0.2, 0.382664, 0.041055}};
    for (auto const& c : cases) {
        Body const body{c.form, 0.05, 0.5, 1000, 3600};
        double const seconds = c.fo * body.half_thickness * body.half_thickness * body.density *
                               body.heat_capacity / body.conductivity;
        Food food(body, 1, 48);
        food.step(seconds, 0, c.bi * body.conductivity / body.half_thickness);
        INFO("form " << static_cast<int>(c.form) << " Bi " << c.bi << " Fo " << c.fo);
        CHECK_THAT(food.centre(), WithinAbs(c.centre, 0.002));
        CHECK_THAT(food.surface(), WithinAbs(c.surface, 0.002));
    }
}

TEST_CASE("published examples of conduction") {
    // A steel slab of 40 mm from -20 degC, heated on one side by oil of 60 degC, h 500, k 63.9,
    // alpha 18.8e-6: the insulated face is at 42.9 degC after 8 min (worked in a textbook by the first term).
    Food slab({Form::slab, 0.040, 63.9, 7832, 63.9 / 18.8e-6 / 7832}, -20, 40);
    slab.step(480, 60, 500);
    CHECK_THAT(slab.centre(), WithinAbs(42.9, 0.2));
    // An apple of 60 mm, k 0.355, cp 3600, density 820, h 50: from 15 to 3 degC in water of 2 degC in 1.05 h.
    Food apple({Form::sphere, 0.030, 0.355, 820, 3600}, 15, 40);
    apple.step(1.049 * 3600, 2, 50);
    CHECK_THAT(apple.centre(), WithinAbs(3, 0.03));
}

TEST_CASE("food takes in exactly the heat that it holds afterwards") {
    for (auto form : {Form::slab, Form::cylinder, Form::sphere}) {
        Food food({form, 0.045, 0.48, 1050, 3500}, 5);
        double const before = food.heat_per_area();
        double taken = 0;
        for (int i = 0; i < 600; ++i) taken += food.step(5, 85, 300, 40);
        CHECK_THAT(food.heat_per_area() - before, WithinRel(taken, 1e-9));
        CHECK(food.surface() > food.mean());
        CHECK(food.mean() > food.centre());
    }
}
