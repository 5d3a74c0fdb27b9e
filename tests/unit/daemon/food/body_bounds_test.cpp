// What the middle of a body can do at most, against the exact series, and what comes of it for a tip that
// slides out of the middle or was put in while it was read.
#include "daemon/food/body_bounds.hpp"

#include <algorithm>
#include <cmath>
#include <functional>
#include <memory>

#include "daemon/food/core_evidence.hpp"
#include "daemon/forecast/conduction.hpp"
#include "tests/support/catch.hpp"
#include "tests/unit/daemon/food/ledger_bench.hpp"

using namespace ingle;
using namespace ingle::test;

namespace {

constexpr double rhythms[] = {1, 5, 10, 30, 60};
constexpr double boundless = 1e6;  // Biot number

double per_s(double thickness_m) {  // Fourier number
    return meat_properties.diffusivity() / (thickness_m * thickness_m / 4);
}

// The middle of an exact body from 4 degC on in surroundings of 96 degC.
std::function<double(double)> middle(Shape shape, double thickness_m, double biot) {
    auto const body = std::make_shared<Conduction>(shape, biot);
    return [=](double t) { return 96 - (96 - 4) * body->centre(std::max(0.005, t * per_s(thickness_m))); };
}

struct Said {
    Shape shape;
    double thickness_m;
};

struct Counted {
    double highest_c = -1000, newest_t = 0;
    bool shown = false;
};
Counted judged(Said said, std::function<double(double)> const& reads, double until, double every,
               std::optional<double> medium = 150) {
    CoreEvidence evidence(Length{said.thickness_m}, food_class("whole-poultry"), 100, said.shape);
    Counted counted;
    for (double t = 0; t <= until; t += every) {
        evidence.take(t, reads(t), false, FoodPhase::cooking, medium);
        for (auto const& one : evidence.take_judged())
            if (one.doubt == CoreDoubt::none)
                counted = {std::max(counted.highest_c, one.celsius), one.t, evidence.shown()};
    }
    counted.shown = evidence.shown();
    return counted;
}

}  // namespace

TEST_CASE("no exact body moves faster or bends more than the bounds, whatever its surface") {
    for (auto const shape : {Shape::slab, Shape::cylinder, Shape::sphere})
        for (double const biot : {1.0, 5.0, boundless}) {
            Conduction const body(shape, biot);
            double const thickness = 0.06, h = 0.001;
            double steepest = 0;
            for (double fourier = 0.012; fourier < 0.5; fourier += h)
                steepest = std::max(steepest, std::abs(body.centre(fourier + h) - 2 * body.centre(fourier) +
                                                       body.centre(fourier - h)) /
                                                  (h * h));
            double quickest = 0;
            for (double fourier = 0.012; fourier < 0.5; fourier += h)
                quickest = std::max(quickest, (body.centre(fourier) - body.centre(fourier + h)) / h);
            BodyBounds const bounds(Length{thickness}, shape, 0.05);
            CHECK(quickest * per_s(thickness) < bounds.rate(1).value());
            if (biot == boundless)
                CHECK(quickest * per_s(thickness) > bounds.rate(1).value() * std::pow(0.8, 2) * 0.89);
            double const of_this = steepest * per_s(thickness) * per_s(thickness);
            double const bound = bounds.bend(1).value();
            CHECK(of_this < bound);
            // A fifth of the thickness and a tenth of the diffusivity are all that it is wider.
            if (biot == boundless) CHECK(of_this > bound * std::pow(0.8, 4) * std::pow(0.89, 2));
        }
    CHECK_FALSE(BodyBounds({}, Shape::slab, 0.05).bend(1));
    CHECK_FALSE(BodyBounds({}, Shape::slab, 0.05).rate(1));
}

TEST_CASE("no exact body gets further than the bound after what it had gone") {
    for (double const thickness : {0.05, 0.08, 0.12}) {
        BodyBounds const bounds(Length{thickness}, {}, 0.05);
        Conduction const sphere(Shape::sphere, boundless);
        for (double from = 60; from < 3000; from *= 1.5)
            for (double after : {60.0, 150.0, 600.0}) {
                auto const gone = [&](double t) {
                    return 1 - sphere.centre(std::max(0.005, t * per_s(thickness)));
                };
                CHECK(gone(from + after) <= bounds.share_after(gone(from), after) + 1e-6);
            }
    }
    // The middle of a sphere of 8 cm: from 6 degC to 75 degC takes a good part of half an hour.
    BodyBounds const sphere(Length{0.08}, Shape::sphere, 0.05);
    CHECK(100 * sphere.share_after(0.06, 150) < 20);
    CHECK(100 * sphere.share_after(0.06, 1500) > 75);
}

TEST_CASE("the middle of an exact body counts at every rhythm, fine or in whole degrees") {
    for (auto const& body : {Said{Shape::slab, 0.06}, Said{Shape::cylinder, 0.07}, Said{Shape::sphere, 0.08},
                             Said{Shape::sphere, 0.12}, Said{Shape::slab, 0.04}})
        for (double const biot : {2.0, 20.0})
            for (double const every : rhythms) {
                auto const core = middle(body.shape, body.thickness_m, biot);
                double until = 300;
                while (core(until) < 75) until += 60;
                INFO("thickness " << body.thickness_m << ", Biot " << biot << ", every " << every);
                CHECK(judged(body, core, until, every).newest_t > until - 2 * every - CoreEvidence::hold_s);
                auto const whole = [&](double t) { return std::round(core(t)); };
                CHECK(judged(body, whole, until, every).newest_t > until - 2 * every - CoreEvidence::hold_s);
            }
}

TEST_CASE("a tip that slides out of the middle of a body of said thickness is not its core") {
    struct Slide {
        Said body;
        double by_k, constant_s;
    };
    for (auto const& [body, by_k, constant_s] :
         {Slide{{Shape::slab, 0.06}, 18, 120}, Slide{{Shape::slab, 0.06}, 18, 60},
          Slide{{Shape::slab, 0.06}, 30, 120}, Slide{{Shape::slab, 0.09}, 18, 240},
          Slide{{Shape::cylinder, 0.07}, 18, 120}, Slide{{Shape::sphere, 0.08}, 18, 120},
          Slide{{Shape::sphere, 0.12}, 30, 300}})
        for (double const every : rhythms) {
            auto const core = middle(body.shape, body.thickness_m, 5);
            double until = 300;
            while (core(until) < 70) until += 60;
            double const out = until / 2;
            auto const reads = [&, by = by_k, constant = constant_s](double t) {
                return core(t) + (t < out ? 0 : by * (1 - std::exp(-(t - out) / constant)));
            };
            auto const counted = judged(body, reads, until, every);
            INFO("thickness " << body.thickness_m << ", " << by_k << " K in " << constant_s << " s, every "
                              << every);
            CHECK(counted.highest_c < core(out) + 12);
            // And it does not begin to count when the middle would have come so far.
            CHECK(counted.newest_t < out + 300);
        }
}

TEST_CASE("slid out, and put back, it counts again") {
    Said const slab{Shape::slab, 0.06};
    auto const core = middle(slab.shape, slab.thickness_m, 5);
    for (double const every : {5.0, 30.0}) {
        auto const reads = [&](double t) {
            return core(t) + (t < 900 || t >= 1500 ? 0 : 18 * (1 - std::exp(-(t - 900) / 120)));
        };
        CHECK(judged(slab, reads, 1800, every).newest_t > 1800 - 2 * every - CoreEvidence::hold_s);
    }
}

TEST_CASE("what came further than its body could, and stands still, shows no target") {
    for (auto const& body : {Said{Shape::sphere, 0.08}, Said{Shape::sphere, 0.05}, Said{Shape::slab, 0.06}})
        for (double const every : {1.0, 10.0, 60.0}) {
            auto const reads = [](double t) { return std::min(75.0, 6 + 69 * t / 150); };
            CHECK_FALSE(judged(body, reads, 1500, every, 84).shown);
            // Before a hot oven it is as little shown by standing still.
            CHECK_FALSE(judged(body, reads, 1500, every, 150).shown);
        }
    // A core that was seen from the begin on is.
    auto const core = middle(Shape::sphere, 0.08, 5);
    CHECK(judged({Shape::sphere, 0.08}, core, 1800, 10, 84).shown);
}

TEST_CASE("a ledger does not call that target met, in any of its answers") {
    for (double const every : {1.0, 10.0, 60.0}) {
        auto settings = dish("whole-poultry");
        settings.dish.thickness = Length{0.08};
        settings.dish.shape = Shape::sphere;
        FoodLedger ledger(settings, zero);
        ledger.stage(zero, FoodPhase::cooking, from_fahrenheit(165));
        Curve const curve{{{0, 6}, {2.5, 75}, {40, 75}}};
        feed(ledger, curve, 0, 40 * 60, every);
        CHECK(verdict(ledger, "core-target").answer == "unknown");
        CHECK(verdict(ledger, "lethality").answer != "met");
        CHECK(concern(ledger, "core-target").truth != Holds::yes);
    }
}
