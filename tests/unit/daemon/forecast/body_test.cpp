// The recursive body against the exact series, against Duhamel's sum over a stepped medium, and against
// values that were worked out apart from this code.
#include "daemon/forecast/body.hpp"

#include <algorithm>
#include <cmath>
#include <utility>

#include "daemon/forecast/conduction.hpp"
#include "tests/support/catch.hpp"
#include "tests/support/rows.hpp"

using namespace ingle;
using ingle::test::number;
using ingle::test::rows;

namespace {

BodyParameters dry(Shape shape, double biot) {
    BodyParameters p;
    p.shape = shape, p.biot = biot, p.tau_s = 10000, p.start_c = 0, p.warms = 0;
    return p;
}

}  // namespace

TEST_CASE("in a constant medium the body is the exact series") {
    for (auto shape : {Shape::slab, Shape::cylinder, Shape::sphere}) {
        for (double biot : {0.3, 1.0, 5.0, 40.0}) {
            Conduction const exact(shape, biot);
            for (double step : {50.0, 400.0}) {
                Body body(dry(shape, biot), 1);
                body.use_step(step);
                float core = 0;
                double t = 0;
                for (; t < 12000; t += step) core = body.step(1);
                CHECK_THAT(core, WithinAbs(1 - exact.centre(t / 10000), 2e-3));
            }
        }
    }
}

TEST_CASE("centre temperatures of the textbook's solutions") {
    // tests/reference/forecast/conduction_centre.csv: full series, computed from the textbook's equations.
    for (auto const& row : rows("reference/forecast/conduction_centre.csv")) {
        auto const name = row.at("body");
        auto const shape = name == "slab" ? Shape::slab : name == "cyl" ? Shape::cylinder : Shape::sphere;
        double const biot = number(row, "biot"), fo = number(row, "fourier");
        Conduction const exact(shape, biot);
        INFO(name << " Bi " << biot << " Fo " << fo);
        CHECK_THAT(exact.centre(fo), WithinAbs(number(row, "centre"), 1e-6));
        CHECK_THAT(exact.surface(fo), WithinAbs(number(row, "surface"), 1e-6));
        Body body(dry(shape, biot), 1);
        body.use_step(10000 * fo / 20);
        float core = 0;
        for (int i = 0; i < 20; ++i) core = body.step(1);
        CHECK_THAT(1 - core, WithinAbs(number(row, "centre"), 2.5e-3));
    }
}

TEST_CASE("a stepped medium is followed as Duhamel's sum says") {
    Conduction const exact(Shape::cylinder, 3);
    Body body(dry(Shape::cylinder, 3), 1);
    body.use_step(100);
    float core = 0;
    for (int i = 0; i < 60; ++i) core = body.step(i < 25 ? 1.0F : 0.4F);
    double const duhamel = (1 - exact.centre(0.6)) - 0.6 * (1 - exact.centre(0.35));
    CHECK_THAT(core, WithinAbs(duhamel, 2e-3));
}

TEST_CASE("a dry sphere, tau 9000 s, Bi 20, 5 degC in 85 degC") {
    // Worked out by an independent program: 38.09, 70.32 and 80.53 degC after 20, 40 and 60 min.
    auto p = dry(Shape::sphere, 20);
    p.tau_s = 9000, p.start_c = 5;
    Body body(p, 85);
    body.use_step(60);
    double const expected[] = {38.09, 70.32, 80.53};
    for (double const c : expected) {
        float core = 0;
        for (int i = 0; i < 20; ++i) core = body.step(85);
        CHECK_THAT(core, WithinAbs(c, 0.1));
    }
}

TEST_CASE("a wet surface makes a plateau under the medium, and the core goes on when it has dried") {
    auto p = dry(Shape::cylinder, 2);
    p.tau_s = 19000, p.start_c = 5, p.wetness = 0.1, p.moisture_k = 0.2 * 2.35e6 / 3450 / 2;
    p.slows_from = 0.25;
    Body wet(p, 110);
    p.wetness = 0;
    Body bare(p, 110);
    wet.use_step(120), bare.use_step(120);
    float at_4h = 0, at_6h = 0, core = 0, without = 0;
    float fastest_late = 0;
    for (int i = 1; i <= 480; ++i) {
        float const before = core;
        core = wet.step(110), without = bare.step(110);
        CHECK(core <= without + 0.01F);
        if (i == 120) at_4h = core;
        if (i == 180) at_6h = core;
        if (i > 180) fastest_late = std::max(fastest_late, core - before);
    }
    CHECK(at_6h - at_4h < 15);                   // half as fast as before
    CHECK(fastest_late > (at_6h - at_4h) / 60);  // and faster again once dry
    CHECK(wet.moisture() < 0.01F);
    CHECK(core > 100);
}

TEST_CASE("what drives evaporation is the published saturation pressure, with Stefan's flow") {
    // ASHRAE 2017, chapter 1: 872.6, 3169.7 and 12351.3 Pa at 5, 25 and 50 degC.
    for (auto const& [c, pa] : {std::pair{5.0, 872.6}, {25.0, 3169.7}, {50.0, 12351.3}}) {
        double const latent = (2.501e6 - 2361 * c) / 2.35e6;
        CHECK_THAT(evaporation_pa(static_cast<float>(c)),
                   WithinRel(-latent * 101325 * std::log(1 - pa / 101325), 0.002));
    }
}
