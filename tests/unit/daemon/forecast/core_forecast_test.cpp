// The live forecast: what it says of a core that behaves like a body, of one that cannot arrive, after a
// restart, a moved probe and a gap. How good it is, tests/forecast measures.
#include "daemon/forecast/core_forecast.hpp"
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

TEST_CASE("a medium that is too cold: never an estimate, and after 40 min it is said") {
    CoreForecast forecast;
    forecast.begin({Shape::cylinder, 0.09, std::nullopt, Surroundings::smoker});
    bool said = false;
    for (double t = 0; t < 3 * 3600; t += 10) {
        forecast.add(at(t), roll(t, 5, 90), 90);
        if (static_cast<int>(t) % 60 != 0) continue;
        auto const answer = forecast.to(95, true, at(t));
        CHECK_FALSE(answer.eta_s);
        CHECK_FALSE(answer.why.empty());
        if (answer.unreachable) CHECK(t >= 2400);
        said = said || answer.unreachable;
    }
    CHECK(said);
}

TEST_CASE("the same readings give the same answer, and after a restart the interval holds") {
    double const done = when(74), now = 0.6 * done;
    auto one = poached(now), two = poached(now);
    auto const a = one.to(74, true, at(now)), b = two.to(74, true, at(now));
    CHECK(a.eta_s == b.eta_s);
    CHECK(a.high_s == b.high_s);
    CoreForecast again;
    again.begin({Shape::cylinder, 0.09, std::nullopt, Surroundings::liquid});
    again.from_text(one.as_text(), one.first());
    CHECK(again.as_text() == one.as_text());
    auto const c = again.to(74, true, at(now));
    REQUIRE(c.eta_s);
    // The bank has to gather again: less certain than before, and it says so.
    CHECK(*c.low_s <= done - now);
    CHECK(*c.high_s >= done - now);
    CHECK_THAT(*c.eta_s, WithinAbs(*a.eta_s, 0.1 * done));
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
    CHECK_THAT(answer.why, INGLE_CONTAINS("straight line"));
}
