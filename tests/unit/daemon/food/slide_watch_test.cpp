// A tip that slides out of the middle against the exact middle of a body, and one that came far while nobody
// looked.
#include "daemon/food/slide_watch.hpp"

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

constexpr double boundless = 1e6;  // Biot number

struct Body {
    Shape shape;
    double thickness_m;
};

double per_s(double thickness_m) {  // Fourier number
    return meat_properties.diffusivity() / (thickness_m * thickness_m / 4);
}

// The middle of an exact body from 4 degC on in surroundings of `around` degC.
std::function<double(double)> middle(Body body, double biot, double around = 96) {
    auto const exact = std::make_shared<Conduction>(body.shape, biot);
    return [=](double t) {
        return around - (around - 4) * exact->centre(std::max(0.005, t * per_s(body.thickness_m)));
    };
}

struct Counted {
    double highest_c = -1000, newest_t = -1;
};
// What counts in the end: what was found to be no core's is taken back.
Counted judged(std::optional<Body> body, std::function<double(double)> const& reads, double until,
               double every, std::function<bool(double)> const& unread = {}) {
    CoreEvidence evidence(body ? std::optional(Length{body->thickness_m}) : std::nullopt,
                          food_class("whole-poultry"), 100, body ? std::optional(body->shape) : std::nullopt);
    Counted counted;
    for (double t = 0; t <= until; t += every) {
        if (unread && unread(t)) continue;
        evidence.take(t, reads(t), false, FoodPhase::cooking, 150);
        for (auto const& one : evidence.take_judged()) {
            if (one.voids) counted = {};
            if (one.doubt == CoreDoubt::none) counted = {std::max(counted.highest_c, one.celsius), one.t};
        }
    }
    return counted;
}

double until_at(std::function<double(double)> const& core, double celsius) {
    double until = 300;
    while (core(until) < celsius) until += 60;
    return until;
}

}  // namespace

TEST_CASE("the middle of an exact body loses no more of its rate than the bound says") {
    for (auto const shape : {Shape::slab, Shape::cylinder, Shape::sphere})
        for (double const biot : {1.0, 5.0, boundless})
            for (double const seconds : {60.0, 300.0, 600.0}) {
                Body const body{shape, 0.06};
                auto const core = middle(body, biot);
                BodyBounds const bounds(Length{0.06}, shape, 0.05);
                double most = 0;
                for (double t = 120; core(t + 2 * seconds) < 95; t += 60) {
                    double const before = core(t + seconds) - core(t);
                    most = std::max(most, 1 - (core(t + 2 * seconds) - core(t + seconds)) / before);
                }
                CHECK(most <= bounds.relaxed(seconds));
                CHECK(bounds.relaxed(seconds) < 1);
            }
    CHECK(BodyBounds({}, {}, 0).relaxed(60) == 1);  // a liquid has no middle
}

TEST_CASE("no slide is seen in what the middle of an exact body reads, at any rhythm") {
    for (double const every : {1.0, 10.0, 60.0, 120.0, 300.0})
        for (auto const& body :
             {Body{Shape::slab, 0.04}, Body{Shape::slab, 0.06}, Body{Shape::cylinder, 0.07},
              Body{Shape::sphere, 0.05}, Body{Shape::sphere, 0.12}})
            for (double const biot : {1.0, 5.0, boundless}) {
                auto const core = middle(body, biot);
                BodyBounds const bounds(Length{body.thickness_m}, body.shape, 0.05);
                SlideWatch watch;
                bool seen = false;
                for (double t = 0; t < until_at(core, 85); t += every) {
                    watch.take(t, std::round(core(t)));
                    seen = seen || watch.seen(bounds, true);
                }
                INFO("thickness " << body.thickness_m << ", Biot " << biot << ", every " << every);
                CHECK_FALSE(seen);
            }
}

TEST_CASE("a wild reading, and a tip that settles by four kelvin, are no slide") {
    BodyBounds const bounds(Length{0.06}, Shape::slab, 0.05);
    auto const seen = [&](double every, std::function<double(double)> const& reads) {
        SlideWatch watch;
        bool found = false;
        for (double t = 0; t <= 3600; t += every) {
            watch.take(t, reads(t));
            found = found || watch.seen(bounds, true);
        }
        return found;
    };
    for (double const every : {60.0, 300.0}) {
        CHECK_FALSE(seen(every, [](double t) { return t == 1800 ? 48.0 : 40.0; }));
        CHECK_FALSE(seen(every, [](double t) { return t == 1800 ? 32.0 : 40.0; }));
        CHECK(seen(every, [](double t) { return t >= 1800 ? 50.0 : 40.0; }));
    }
    CHECK_FALSE(seen(10, [](double t) { return t >= 1800 ? 43.9 : 40.0; }));
    CHECK(seen(10, [](double t) { return t >= 1800 ? 47.0 : 40.0; }));
}

TEST_CASE("a slow slide, one in a thin dish, and one at a reading in five minutes are no core") {
    struct Slide {
        Body body;
        double by_k, constant_s, every;
    };
    for (auto const& [body, by_k, constant_s, every] :
         {Slide{{Shape::slab, 0.06}, 18, 120, 300}, Slide{{Shape::slab, 0.06}, 18, 120, 120},
          Slide{{Shape::slab, 0.06}, 18, 240, 10}, Slide{{Shape::slab, 0.09}, 18, 240, 60},
          Slide{{Shape::slab, 0.04}, 18, 60, 10}, Slide{{Shape::slab, 0.04}, 18, 120, 10},
          Slide{{Shape::sphere, 0.12}, 18, 240, 10}, Slide{{Shape::slab, 0.09}, 30, 480, 30}}) {
        auto const core = middle(body, 5);
        double const until = until_at(core, 70), out = until / 2;
        auto const reads = [&, by = by_k, constant = constant_s](double t) {
            return core(t) + (t < out ? 0 : by * (1 - std::exp(-(t - out) / constant)));
        };
        INFO("thickness " << body.thickness_m << ", " << by_k << " K in " << constant_s << " s, every "
                          << every);
        CHECK(judged(body, reads, until, every).highest_c < core(out) + 12);
        CHECK(judged(body, core, until, every).newest_t > until - 2 * every - 40);
    }
}

TEST_CASE("of a thickness that is not said, a slide is seen where no dish of its class could do it") {
    auto const core = middle({Shape::slab, 0.06}, 5);
    double const until = until_at(core, 70), out = until / 2;
    auto const reads = [&](double t) {
        return core(t) + (t < out ? 0 : 18 * (1 - std::exp(-(t - out) / 60)));
    };
    for (double const every : {1.0, 10.0, 30.0}) {
        CHECK(judged({}, reads, until, every).highest_c < core(out) + 12);
        CHECK(judged({}, core, until, every).newest_t > until - 2 * every - 40);
    }
}

TEST_CASE("what came far while nobody looked, and stands still, was not seen to come") {
    Body const body{Shape::sphere, 0.1};
    for (double const every : {10.0, 60.0, 300.0}) {
        // Poached at 62 degC it is nearly as warm; an hour later the tip stands in liquid at 88 degC, for
        // hours.
        auto const core = middle(body, boundless, 62.5);
        double const out = until_at(core, 61.5);
        auto const reads = [&](double t) { return t < out + 3600 ? core(t) : 88.0; };
        auto const unread = [&](double t) { return t > out && t < out + 3600; };
        CHECK(judged(body, reads, out + 6 * 3600, every, unread).highest_c < 65);
        // Within ten minutes it was on its way before and after: nothing is lost of an honest core.
        auto const hot = middle(body, 5);
        double const until = until_at(hot, 80);
        auto const hour = [&](double t) { return t > until / 2 && t < until / 2 + 3600; };
        CHECK(judged(body, hot, until + 3600, every, hour).newest_t > until);
    }
    // Heated and held within the hole: by its readings nobody can tell that from the liquid.
    auto const stands = judged(
        body, [](double t) { return t < 4000 ? 20.0 : 80.0; }, 4 * 3600, 10,
        [](double t) { return t > 600 && t < 4200; });
    CHECK(stands.highest_c < 30);
    // What is warm in the cold is told at once, whoever moved the tip.
    CoreEvidence evidence({});
    for (double t = 0; t <= 600; t += 10) evidence.take(t, 3, false, FoodPhase::brining, std::nullopt);
    for (double t = 9000; t <= 9100; t += 10) evidence.take(t, 20, false, FoodPhase::brining, std::nullopt);
    CHECK(evidence.doubt() == CoreDoubt::none);
}

TEST_CASE("a tip that stands in the liquid is not back in the core by standing there for long") {
    for (auto const thickness : {0.0, 0.12}) {
        auto const reads = [](double t) { return t < 1200 ? 60.0 : 85.0; };
        auto const body = thickness > 0 ? std::optional(Body{Shape::sphere, thickness}) : std::nullopt;
        CHECK(judged(body, reads, 12 * 3600, 10).highest_c < 61);
    }
}

TEST_CASE("a judge that was told of a hole or a slide remembers it over a restart") {
    for (bool const hole : {true, false}) {
        CoreEvidence before(Length{0.06}, food_class("whole-poultry"), 100, Shape::slab);
        double t = 0;
        for (; t <= 1200; t += 10) before.take(t, 40, false, FoodPhase::cooking, std::nullopt);
        if (hole) t += 3600;
        double const from = t;
        for (; t <= from + 700; t += 10)
            before.take(t, hole ? 80 : 40 + 18 * (1 - std::exp((from - t) / 120)), false, FoodPhase::cooking,
                        std::nullopt);
        REQUIRE(before.doubt() == CoreDoubt::moved);
        auto written = FieldVisitor::writing();
        before.fields(written);
        CoreEvidence after(Length{0.06}, food_class("whole-poultry"), 100, Shape::slab);
        auto read = FieldVisitor::reading(written.text());
        after.fields(read);
        REQUIRE_FALSE(read.broken());
        for (double end = t + 1800; t <= end; t += 10)
            after.take(t, hole ? 80 : 58, false, FoodPhase::cooking, std::nullopt);
        CHECK(after.doubt() == CoreDoubt::moved);
    }
}

TEST_CASE("no middle of an exact body goes faster than its slowest mode, whatever its surroundings do") {
    for (double const every : {1.0, 10.0, 60.0, 300.0})
        for (auto const& body :
             {Body{Shape::slab, 0.04}, Body{Shape::cylinder, 0.08}, Body{Shape::sphere, 0.05}})
            for (double const biot : {1.0, 5.0, boundless}) {
                auto const core = middle(body, biot, 100);
                BodyBounds const bounds(Length{body.thickness_m}, body.shape, 0.05);
                SlideWatch warmer, colder;
                bool seen = false;
                for (double t = 0; t < until_at(core, 95); t += every) {
                    warmer.take(t, std::round(core(t)), 0);
                    colder.take(t, std::round(100 - core(t)), 0);
                    seen = seen || warmer.outran(bounds, 100) || colder.outran(bounds, {});
                }
                INFO("thickness " << body.thickness_m << ", Biot " << biot << ", every " << every);
                CHECK_FALSE(seen);
            }
}

TEST_CASE("a tip that slides in the cold faster than its body cools was not seen to cool") {
    // Of a cylinder of 8 cm: its slowest mode takes 19 min or more for e-fold, so that from 57 degC to 5 it
    // takes three quarters of an hour in ice.
    for (double const every : {10.0, 60.0, 120.0, 300.0})
        for (auto const phase : {FoodPhase::chilling, FoodPhase::waiting, FoodPhase::cold_holding}) {
            CoreEvidence evidence(Length{0.08}, food_class("whole-poultry"), 100, Shape::cylinder);
            bool voided = false;
            double lowest = 100;
            // From 40 min on by 1.9 K a minute, evenly.
            for (double t = 0; t <= 3 * 3600; t += every) {
                double const c = t < 2400 ? 60 - t / 1200 : std::max(4.0, 58 - 1.9 * (t - 2400) / 60);
                evidence.take(t, c, false, phase, 3.0);
                for (auto const& one : evidence.take_judged()) {
                    voided = voided || one.voids;
                    if (one.voids) lowest = 100;
                    if (one.doubt == CoreDoubt::none) lowest = std::min(lowest, one.celsius);
                }
            }
            INFO("every " << every << ", phase " << static_cast<int>(phase));
            CHECK(voided);
            CHECK(lowest > 5);
        }
}

TEST_CASE("a tip that goes from 6 to 75 degC in two and a half minutes is in no dish of eight centimetres") {
    for (double const every : {10.0, 30.0})
        for (auto const thickness : {0.0, 0.08}) {
            auto const reads = [](double t) {
                return t < 1200 ? 6.0 : std::min(75.0, 6 + 69 * (t - 1200) / 150);
            };
            auto const body = thickness > 0 ? std::optional(Body{Shape::sphere, thickness}) : std::nullopt;
            CHECK(judged(body, reads, 3 * 3600, every).highest_c < 30);
        }
}

TEST_CASE("a middle that goes faster again, where it only slows down, is a tip on its way to the surface") {
    struct Slow {
        double by_k, over_s;
    };
    for (double const every : {1.0, 10.0, 60.0})
        for (auto const& body : {Body{Shape::slab, 0.08}, Body{Shape::cylinder, 0.1}})
            for (double const biot : {3.0, boundless}) {
                auto const core = middle(body, biot);
                double const out = until_at(core, 50), until = until_at(core, 80);
                INFO("thickness " << body.thickness_m << ", Biot " << biot << ", every " << every);
                auto const found_at = [&](std::function<double(double)> const& reads, double warmer_k) {
                    SlideWatch watch;
                    for (double t = 0; t < until; t += every) {
                        watch.take(t, std::round(reads(t) * 10) / 10, 0, t < out ? 96.0 : 96.0 + warmer_k);
                        if (watch.regained(102)) return t;
                    }
                    return -1.0;
                };
                CHECK(found_at(core, 0) < 0);
                for (auto const& slow : {Slow{15, 1200}, Slow{20, 2400}}) {
                    auto const reads = [&](double t) {
                        return core(t) + slow.by_k * std::clamp((t - out) / slow.over_s, 0.0, 1.0);
                    };
                    double const found = found_at(reads, 0);
                    CHECK(found > out);
                    CHECK(found < out + slow.over_s + 600);
                    CHECK(found_at(reads, 10) < 0);  // it was heated more
                }
            }
}

TEST_CASE("a slow slide ends in no core that counts, and a body that is put in warm has its own begin") {
    auto const core = middle({Shape::slab, 0.1}, boundless);
    double const out = until_at(core, 50);
    auto const reads = [&](double t) { return core(t) + 22 * std::clamp((t - out) / 1800, 0.0, 1.0); };
    for (double const every : {10.0, 60.0})
        CHECK(judged(Body{Shape::slab, 0.1}, reads, out + 3600, every).highest_c < 70);
    // At 55 degC for hours, and then heated: it begins slowly once more.
    SlideWatch watch;
    bool found = false;
    for (double t = 0; t < 5 * 3600; t += 30) {
        watch.take(t, t < 7200 ? 55 : 55 + (core(t - 7200) - 4) * 45 / 92, 0, 96.0);
        found = found || watch.regained(102);
    }
    CHECK_FALSE(found);
}
