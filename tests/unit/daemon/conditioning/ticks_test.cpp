// Whether a coarse instrument still moves, by the rhythm of its steps.
#include <cmath>

#include "daemon/conditioning/conditioner.hpp"
#include "daemon/conditioning/ticks.hpp"
#include "tests/support/catch.hpp"

using namespace ingle;

namespace {

Instant at(double s) {
    return Instant(from_seconds(s));
}

struct Told {
    Ticks ticks;
    double s = 0;
    Bounds after(double for_s, double celsius, double step = 1) {
        for (double const end = s + for_s; s < end; ++s)
            ticks.take(at(s), celsius, step, std::chrono::seconds(1));
        Bounds bounds;
        bounds.rate_low = -0.1;
        bounds.rate_high = 0.1;
        ticks.narrow(bounds);
        return bounds;
    }
};

}  // namespace

TEST_CASE("a step that is overdue by half of what the steps before took moves no more") {
    Told told;
    for (double const c : {80, 81, 82, 83, 84}) told.after(60, c);
    CHECK(told.after(85, 85).rate_high == 0.1);
    CHECK(told.after(10, 85).rate_high == 0);
    SECTION("the next one moves again, and a rest before it is no rhythm") {
        told.after(600, 85);
        CHECK(told.after(30, 86).rate_high == 0.1);
        CHECK(told.after(65, 86).rate_high == 0);
    }
}

TEST_CASE("what trembles between two values shows by itself what it does, until one of them stays out") {
    Told told;
    for (double const c : {80, 81, 82, 83}) told.after(40, c);
    for (int i = 0; i < 60; ++i) {
        told.after(2, 84);
        CHECK(told.after(2, 83).rate_high == 0.1);
    }
    CHECK(told.after(50, 83).rate_high == 0.1);
    SECTION("one other alone in between is no step") {
        told.after(1, 84);
        CHECK(told.after(20, 83).rate_high == 0);
    }
    SECTION("a way back is one") {
        told.after(2, 82);
        CHECK(told.after(20, 82).rate_low == -0.1);
    }
}

TEST_CASE("a fine instrument shows by itself what it does") {
    Told told;
    for (double const c : {80.0, 80.1, 80.2, 80.3}) told.after(40, c, 0.1);
    auto const bounds = told.after(300, 80.3, 0.1);
    CHECK(bounds.rate_low == -0.1);
    CHECK(bounds.rate_high == 0.1);
}

TEST_CASE("over a restart the rhythm of the steps is still known") {
    ProbeSettings settings;
    settings.name = "stock";
    settings.every = Duration{1};
    auto const job = ProbeJob::liquid;
    Effects effects;
    Conditioner before(0, settings, job);
    int s = 0;
    for (; s < 420; ++s) before.take(Reading::good(at(s), 80 + std::floor(std::min(s, 300) / 40.0)), effects);
    REQUIRE(before.signal().slope == 0);
    Memory memory;
    before.remember(memory, "probe.stock.");
    Conditioner later(0, settings, job);
    CHECK(later.recall(memory, "probe.stock.").empty());
    for (; s < 425; ++s) later.take(Reading::good(at(s), 87), effects);
    CHECK(later.signal().slope == 0);
    CHECK(later.signal().bounds.rate_high == 0);
}
