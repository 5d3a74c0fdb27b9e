// Conduction against textbook tables, textbook exercises and published chilling times.
#include "daemon/forecast/conduction.hpp"
#include "tests/support/catch.hpp"
#include "tests/support/rows.hpp"

using namespace ingle;
using ingle::test::number;
using ingle::test::rows;

namespace {

// Seconds until the centre is at `to`.
double centre_s(Shape shape, double radius, double k, double a, double h, double from, double medium,
                double to) {
    return Conduction(shape, h * radius / k).fourier_at_centre((to - medium) / (from - medium)) * radius *
           radius / a;
}

}  // namespace

TEST_CASE("first roots and coefficients are those of the textbook table") {
    auto const table = rows("reference/food-safety/conduction_roots.csv");
    REQUIRE(table.size() == 24);
    for (auto const& row : table) {
        for (auto [shape, name] : {std::pair{Shape::slab, std::string("slab")},
                                   {Shape::cylinder, "cylinder"},
                                   {Shape::sphere, "sphere"}}) {
            Conduction const body(shape, number(row, "biot"));
            CHECK_THAT(body.root(0), WithinAbs(number(row, name + "_root"), 1.01e-4));
            CHECK_THAT(body.coefficient(0), WithinAbs(number(row, name + "_c"), 1.01e-4));
        }
    }
    // Without resistance at the surface: pi/2, 2.4048, pi; the first zeros of cos, J0 and sin.
    CHECK_THAT(Conduction(Shape::slab, 1e9).root(0), WithinAbs(1.5708, 1e-4));
    CHECK_THAT(Conduction(Shape::cylinder, 1e9).root(0), WithinAbs(2.4048, 1e-4));
    CHECK_THAT(Conduction(Shape::sphere, 1e9).root(0), WithinAbs(3.1416, 1e-4));
}

TEST_CASE("the series begins at one, falls without a wiggle, and the surface leads") {
    for (auto shape : {Shape::slab, Shape::cylinder, Shape::sphere}) {
        for (double biot : {0.1, 1.0, 10.0, 100.0}) {
            Conduction const body(shape, biot);
            double before = 1 + 1e-6;
            for (double fo = 0.005; fo < 3; fo *= 1.3) {
                double const now = body.centre(fo);
                CHECK(now <= before + 1e-9);
                CHECK(body.surface(fo) < now);
                before = now;
            }
            CHECK_THAT(body.centre(body.fourier_at_centre(0.3)), WithinAbs(0.3, 1e-9));
        }
    }
}

TEST_CASE("textbook exercises") {
    // Cengel 11-44: steaks 20 mm thick, k 0.45, a 0.91e-7, h 9, 25 degC, air -11 degC: surface at 2 degC
    // in 93.1 min.
    Conduction const steak(Shape::slab, 9 * 0.010 / 0.45);
    double const surface = (2.0 + 11) / (25 + 11);
    CHECK_THAT(steak.surface(5590 * 0.91e-7 / 1e-4), WithinAbs(surface, 0.002));
    // Kreith: roast of 1.5 kg as a sphere, rho 1000, c 4000, k 0.5, h 18, 20 degC in an oven of 163 degC:
    // centre at 77 degC after 134 min (one-term solution; the whole series takes 1 % off).
    CHECK_THAT(centre_s(Shape::sphere, 0.0710, 0.5, 0.5 / 4e6, 18, 20, 163, 77) / 60,
               WithinRel(134.0, 0.015));
    // Incropera 5.4: steel wall of 40 mm insulated on one side, h 500, k 63.9, a 18.8e-6, -20 degC, oil of 60
    // degC for 8 min: 42.9 degC at the insulated face.
    Conduction const wall(Shape::slab, 500 * 0.040 / 63.9);
    CHECK_THAT(60 - 80 * wall.centre(18.8e-6 * 480 / (0.040 * 0.040)), WithinAbs(42.9, 0.2));
    // Incropera 5.5: sphere of 5 mm radius, k 20, a 6.66e-6, h 6000, 335 to 50 degC in water of 20 degC: 3.08
    // s.
    CHECK_THAT(centre_s(Shape::sphere, 0.005, 20, 6.66e-6, 6000, 335, 20, 50), WithinRel(3.08, 0.04));
}

TEST_CASE("published chilling times: rolled beef of 110 mm, 70 to 10 degC") {
    // James and James, Meat Refrigeration (2002), table 16.7: water of 0 degC 3.6 and 3.1 h; air of 0 degC
    // at 1.2 m/s 5.1 and 4.9 h (evaporation helps there, so the mere conduction is slower).
    auto const& beef = *food_class("whole-meat");
    auto const time = [&](Around around) {
        return cook_time(beef, Shape::cylinder, Length{0.110}, Temperature{70}, Temperature{0},
                         Temperature{10}, around);
    };
    auto const water = time(Around::liquid), air = time(Around::moving_air);
    CHECK_THAT(*water.seconds / 3600, WithinRel(3.35, 0.20));
    CHECK_THAT(*air.seconds / 3600, WithinRel(5.0, 0.20));
    CHECK(*water.low_s < 3.6 * 3600);
    CHECK(*water.high_s > 3.1 * 3600);
    CHECK(*air.low_s < 5.1 * 3600);
    CHECK(*air.high_s > 4.9 * 3600);
    // Slab of 50 mm, 0.94 kg: water 1.2 h, air 2.1 h.
    auto const slab = cook_time(beef, Shape::slab, Length{0.050}, Temperature{70}, Temperature{0},
                                Temperature{10}, Around::liquid);
    CHECK(*slab.low_s < 1.4 * 3600);
    CHECK(*slab.high_s > 1.2 * 3600);
}

TEST_CASE("cook-time answers or says why not") {
    auto const& roll = *food_class("ground-poultry");
    auto const time = [&](double start, double medium, double target, double thickness = 0.09) {
        return cook_time(roll, Shape::cylinder, Length{thickness}, Temperature{start}, Temperature{medium},
                         Temperature{target});
    };
    auto const poached = time(5, 85, 73.9);
    REQUIRE(poached.seconds);
    CHECK(*poached.low_s < *poached.seconds);
    CHECK(*poached.seconds < *poached.high_s);
    // Four times the time for twice the thickness, were the surface no obstacle; here a little less.
    CHECK_THAT(*time(5, 85, 73.9, 0.18).seconds / *poached.seconds, WithinAbs(3.9, 0.15));
    CHECK(*time(5, 95, 73.9).seconds < *poached.seconds);
    CHECK(*time(20, 85, 73.9).seconds < *poached.seconds);
    CHECK_FALSE(time(5, 70, 73.9).seconds);
    CHECK_THAT(time(5, 70, 73.9).why, INGLE_CONTAINS("never"));
    CHECK(*time(80, 85, 73.9).seconds == 0);
    CHECK_FALSE(time(5, 85, 73.9, 0).seconds);
    CHECK_FALSE(cook_time(*food_class("stock"), Shape::cylinder, Length{0.3}, Temperature{90}, Temperature{3},
                          Temperature{5})
                    .seconds);
    CHECK_THAT(time(5, 180, 73.9).why, INGLE_CONTAINS("in air"));
}
