// The live forecast: what it says of a core that behaves like a body, of one that cannot arrive, after a
// restart, a moved probe and a gap. How good it is, tests/forecast measures.
#include "daemon/forecast/core_forecast.hpp"

#include <cmath>
#include <initializer_list>

#include "tests/support/catch.hpp"

using namespace ingle;

namespace {

Instant at(double s) {
    return Instant(from_seconds(s));
}

// A roll of 9 cm, Bi 40, diffusivity 1.3e-7 m2/s at 40 degC.
double roll(double t, double from = 5, double medium = 85) {
    BodyParameters p;
    p.shape = Shape::cylinder, p.biot = 40, p.tau_s = 0.045 * 0.045 / 1.3e-7, p.start_c = from;
    Body body(p, medium);
    body.use_step(10);
    auto core = static_cast<float>(from);
    for (double s = 10; s <= t; s += 10) core = body.step(static_cast<float>(medium));
    return core;
}
double when(double target, double from = 5, double medium = 85) {
    double t = 60;
    while ((roll(t, from, medium) - target) * (medium - from) < 0) t += 5;
    return t;
}

CoreForecast poached(double until_s, double medium = 85) {
    CoreForecast forecast;
    forecast.begin({Shape::cylinder, 0.09, std::nullopt, Surroundings::liquid});
    for (double t = 0; t <= until_s; t += 10) {
        forecast.add(at(t), roll(t, 5, medium), medium);
        if (static_cast<int>(t) % 60 == 0) forecast.to(74, true, at(t));
    }
    return forecast;
}

}  // namespace

TEST_CASE("a poached roll is foretold from a tenth of its way on, and well from half") {
    double const done = when(74);
    auto early = poached(0.1 * done);
    CHECK(early.to(74, true, at(0.1 * done)).eta_s);
    for (double share : {0.5, 0.7, 0.85}) {
        auto forecast = poached(share * done);
        auto const answer = forecast.to(74, true, at(share * done));
        INFO(share);
        REQUIRE(answer.eta_s);
        CHECK_THAT(*answer.eta_s, WithinAbs((1 - share) * done, 0.03 * done));
        CHECK(*answer.low_s <= *answer.low_half_s);
        CHECK(*answer.low_half_s <= *answer.eta_s);
        CHECK(*answer.eta_s <= *answer.high_half_s);
        CHECK(*answer.high_half_s <= *answer.high_s);
        CHECK(*answer.low_s <= (1 - share) * done);
        CHECK(*answer.high_s >= (1 - share) * done);
        CHECK_FALSE(answer.unreachable);
    }
}

namespace {

// A smoker around `level` that swings by 6 K either way in 40 min; its door is opened at these times (s), and
// it falls by 35 K.
struct Smoked {
    int told = 0, unreachable = 0;
    double first_unreachable_s = 0, levels_c = 0;
};
Smoked smoked(double level, double target, std::initializer_list<double> doors = {}, double swing = 6) {
    auto const medium = [&](double t) {
        double m = level + swing * std::sin(t * 6.2832 / 2400);
        for (double const door : doors)
            if (t > door) m -= 35 * std::exp((door - t) / 900);
        return m;
    };
    BodyParameters p;
    p.shape = Shape::cylinder, p.biot = 1.5, p.tau_s = 0.045 * 0.045 / 1.3e-7, p.start_c = 5;
    Body body(p, level);
    body.use_step(10);
    CoreForecast forecast;
    forecast.begin({Shape::cylinder, 0.09, std::nullopt, Surroundings::smoker});
    Smoked all;
    for (double t = 0; t < 5 * 3600; t += 10) {
        double const core = body.step(static_cast<float>(medium(t)));
        if (core >= target) break;
        forecast.add(at(t), core, medium(t));
        if (static_cast<int>(t) % 120 != 0) continue;
        auto const answer = forecast.to(target, true, at(t));
        CHECK_FALSE(answer.why.empty());
        CHECK_FALSE((answer.eta_s && answer.unreachable));
        all.told += answer.eta_s.has_value();
        if (!answer.unreachable) continue;
        if (++all.unreachable == 1) all.first_unreachable_s = t;
        all.levels_c = *answer.levels_c;
    }
    return all;
}

}  // namespace

TEST_CASE("a medium that is too cold: never an estimate, and within an hour or so it is said") {
    auto const steady = smoked(90, 95, {}, 0);
    CHECK(steady.told == 0);
    REQUIRE(steady.unreachable > 0);
    CHECK(steady.first_unreachable_s >= 2400);
    CHECK(steady.first_unreachable_s <= 2760);
    CHECK_THAT(steady.levels_c, WithinAbs(90, 0.5));
    for (double const below : {3.0, 6.0}) {
        INFO(below);
        auto const swings = smoked(95 - below, 95);
        CHECK(swings.told == 0);
        if (below > 3) CHECK(swings.unreachable > 0);
    }
}

TEST_CASE("a medium that is enough is never called too cold, whoever opens its door") {
    auto const barely = smoked(98, 95, {4000, 5200, 9000});
    INFO(barely.first_unreachable_s);
    INFO(barely.levels_c);
    CHECK(barely.unreachable == 0);
    CHECK(smoked(110, 90, {1200, 2400, 9000}).unreachable == 0);
    CHECK(smoked(110, 90).told > 50);
}

TEST_CASE("the same readings give the same answer, and after a restart it goes on exactly") {
    double const done = when(74), now = 0.6 * done;
    DishEntries const entries{Shape::cylinder, 0.09, std::nullopt, Surroundings::liquid};
    auto undisturbed = poached(now), two = poached(now);
    CHECK(undisturbed.to(74, true, at(now)).eta_s == two.to(74, true, at(now)).eta_s);
    CoreForecast restarted;
    restarted.begin(entries);
    restarted.from_text(undisturbed.as_text(), undisturbed.first());
    REQUIRE(restarted.as_text() == undisturbed.as_text());
    CHECK(restarted.as_text().size() < 16384);
    for (double t = std::floor(now / 10) * 10 + 10; t < 0.9 * done; t += 10) {
        for (auto* one : {&undisturbed, &restarted}) one->add(at(t), roll(t), 85);
        if (static_cast<int>(t) % 60 != 0) continue;
        auto const a = undisturbed.to(74, true, at(t)), b = restarted.to(74, true, at(t));
        INFO(t);
        REQUIRE(a.eta_s);
        CHECK(a.eta_s == b.eta_s);
        CHECK(a.low_s == b.low_s);
        CHECK(a.high_half_s == b.high_half_s);
    }
}

TEST_CASE("a restart without its bank, or with other entries: made anew from the readings") {
    double const done = when(74), now = 0.6 * done;
    auto before = poached(now);
    auto const whole = before.as_text();
    auto const told = before.to(74, true, at(now));
    for (bool const edited : {true, false}) {
        CoreForecast again;
        again.begin({edited ? Shape::sphere : Shape::cylinder, 0.09, std::nullopt, Surroundings::liquid});
        again.from_text(edited ? whole : whole.substr(0, whole.size() - 1), before.first());
        auto const c = again.to(74, true, at(now));
        INFO(edited);
        REQUIRE(c.eta_s);
        CHECK(*c.low_s <= done - now);
        CHECK(*c.high_s >= done - now);
        CHECK_THAT(*c.eta_s, WithinAbs(*told.eta_s, 0.1 * done));
    }
}

TEST_CASE("what an earlier version remembered, or a torn text, is unknown and not misread") {
    for (std::string_view text : {"", "5000 0,20.5,85 5000,20.6,85", "means-1", "means-1 5", "means-1 x",
                                  "means-1 -5.000 1 1 1 1 1 1 1"}) {
        CoreForecast forecast;
        forecast.from_text(text, at(0));
        CHECK_FALSE(forecast.to(74, true, at(600)).eta_s);
    }
}

TEST_CASE("after a gap of 20 min and after a moved probe the interval holds") {
    double const done = when(74), now = 0.75 * done;
    for (bool const gap : {true, false}) {
        CoreForecast forecast;
        forecast.begin({Shape::cylinder, 0.09, std::nullopt, Surroundings::liquid});
        for (double t = 0; t <= now; t += 10) {
            if (gap && t > 0.3 * done && t < 0.3 * done + 1200) continue;
            bool const outside = !gap && t < 0.3 * done;
            if (!gap && !outside && t < 0.3 * done + 10) forecast.moved();
            forecast.add(at(t), outside ? 0.4 * roll(t) + 0.6 * 85 : roll(t), 85);
        }
        auto const answer = forecast.to(74, true, at(now));
        INFO(gap);
        REQUIRE(answer.eta_s);
        CHECK(*answer.low_s <= done - now);
        CHECK(*answer.high_s >= done - now);
    }
}

TEST_CASE("without a medium: a straight line, and it says so") {
    CoreForecast forecast;
    forecast.begin({});
    for (double t = 0; t <= 1800; t += 10) forecast.add(at(t), 5 + t / 60, std::nullopt);
    auto const answer = forecast.to(65, true, at(1800));
    REQUIRE(answer.eta_s);
    CHECK_THAT(*answer.eta_s, WithinAbs(1800, 60));
    CHECK_THAT(answer.why, INGLE_CONTAINS("straight-line"));
}
