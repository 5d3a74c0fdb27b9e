// What may be told of a probe: nothing beyond what it read lately, and no trend of its own way to a new
// place.
#include <cmath>
#include <deque>
#include <random>

#include "daemon/conditioning/conditioner.hpp"
#include "daemon/conditioning/followed.hpp"
#include "daemon/conditioning/lately.hpp"
#include "tests/support/catch.hpp"

using namespace ingle;

namespace {

Instant at(double s) {
    return Instant(from_seconds(s));
}

ProbeSettings every(double s) {
    ProbeSettings settings;
    settings.name = "stock";
    settings.every = Duration{s};
    return settings;
}

}  // namespace

TEST_CASE("a level that may be told lies within the newest 30 s, or the last three readings") {
    Lately lately;
    for (int s = 0; s < 300; ++s) lately.take(at(s), 20 + 0.1 * s);
    auto bounds = lately.bounds(0.05);
    CHECK(bounds.level(1000) <= 20 + 29.9 + 0.05 + 1e-4);
    CHECK(bounds.level(0) >= 20 + 26.8);
    CHECK(bounds.level(48.5) == 48.5);

    Lately rare;
    for (double const c : {50.0, 10.0, 11.0, 12.0}) {
        static double s = 0;
        rare.take(at(s += 900), c);
    }
    bounds = rare.bounds(0.1);
    CHECK_THAT(bounds.low, WithinAbs(10.9, 1e-4));  // beside the next reading the 10 is the fourth
    CHECK_THAT(bounds.high, WithinAbs(12.1, 1e-4));
    SECTION("and none that waits to be believed is forgotten") {
        CHECK_THAT(rare.bounds(0.1, 1, at(4500)).low, WithinAbs(12, 1e-4));
    }
    SECTION("no noise excuses more than most of a kelvin") {
        CHECK(rare.bounds(5).high < 13);
    }
}

TEST_CASE("of readings before a gap only so many count as are among the last three") {
    Lately lately;
    for (int s = 0; s < 60; ++s) lately.take(at(s), s >= 50 && s < 59 ? 45.0 : 50.0);
    lately.take(at(100), 50.5);  // the next one comes beside it and the 50 of the second 59
    CHECK_THAT(lately.bounds(0.1).low, WithinAbs(49.9, 1e-4));
    CHECK_THAT(lately.bounds(0.1).high, WithinAbs(50.6, 1e-4));
    CHECK_THAT(lately.bounds(0.1, 1, at(101)).low, WithinAbs(50.5, 1e-4));
}

TEST_CASE("what has just gone one way is not hidden by a scattered reading or two") {
    Lately lately;
    for (int s = 0; s < 29; ++s) lately.take(at(s), s < 10 ? 77.0 : s < 20 ? 76.5 : s % 2 == 0 ? 76.0 : 76.9);
    REQUIRE(*lately.moved() < -0.8);
    CHECK(lately.bounds(0.3).rate_high == 0);
    for (int s = 29; s < 31; ++s) {
        lately.take(at(s), 76.9);
        CHECK_THAT(*lately.moved(), WithinAbs(-0.1, 1e-4));
        CHECK(lately.bounds(0.3).rate_high == 0);
    }
    for (int s = 31; s < 60; ++s) lately.take(at(s), 78.0);  // it did go up
    CHECK(lately.bounds(0.3).rate_high > 0);
}

TEST_CASE("a coarse instrument that read one value all along is at no other") {
    Lately lately;
    for (int s = 0; s < 200; ++s) lately.take(at(s), s < 150 ? 6.0 : 6.5);
    CHECK(lately.bounds(0.3).level(7) == 6.5);
    CHECK(lately.bounds(0.3).level(6) == 6.5);
    lately.take(at(200), 6.0);
    CHECK_THAT(lately.bounds(0.3).level(7), WithinAbs(6.8, 1e-4));
}

TEST_CASE("a rate that may be told is one that the readings had, and not one that they contradict") {
    Lately lately;
    double celsius = 60;
    for (int s = 0; s < 240; ++s) lately.take(at(s), celsius += 1.0 / 60);
    auto bounds = lately.bounds(0.02);
    CHECK_THAT(bounds.rate(10) * 60, WithinAbs(1, 0.15));
    CHECK(bounds.rate(0.5 / 60) == 0.5 / 60);
    CHECK(bounds.rate(-1) > -0.1 / 60);
    for (int s = 240; s < 275; ++s) lately.take(at(s), celsius -= 2.0 / 60);
    bounds = lately.bounds(0.02);
    CHECK(bounds.rate(1.0 / 60) == 0);  // it falls: no word of rising any more
    CHECK_THAT(bounds.rate(-10) * 60, WithinAbs(-2, 0.3));
}

TEST_CASE("a probe that is dipped: no level beyond the readings, no trend until it has settled") {
    for (double const step : {0.1, 0.25, 0.5, 1.0})
        for (double const tau : {2.0, 5.0, 9.0, 18.0, 37.0}) {
            CAPTURE(step, tau);
            std::mt19937_64 random(7);
            std::normal_distribution<double> noise(0, 0.08);
            Conditioner conditioner(0, every(1), ProbeJob::liquid);
            Followed followed(1e-9);
            Effects out;
            std::deque<double> newest;
            double tip = 22, settled_s = -1;
            for (int s = 0; s < 900; ++s) {
                tip += ((s < 300 ? 22 : 85) - tip) * -std::expm1(-1 / tau);
                double const shown = std::round((tip + noise(random)) / step) * step;
                newest.push_back(shown);
                if (newest.size() > 31) newest.pop_front();
                conditioner.take(Reading::good(at(s), shown), out);
                auto const& signal = conditioner.signal();
                followed.take(signal);
                auto const [low, high] = std::ranges::minmax(newest);
                for (double const told : {signal.level, followed.level(at(s))}) {
                    CHECK(told > low - 0.81);
                    CHECK(told < high + 0.81);
                }
                if (s == 315) CHECK_FALSE(signal.settled);
                if (s < 310 || !signal.settled) continue;
                if (settled_s < 0) settled_s = s;
                CHECK(std::abs(signal.slope) * 60 < 2.5);
                CHECK(std::abs(85 - signal.level) < 1.2);
            }
            CHECK(settled_s > 300);
            CHECK(settled_s < 300 + 240);
        }
}

TEST_CASE("steps with rest between them: no trend is told across a step, whatever the steps are") {
    for (double const step : {0.0, 0.1, 0.25, 0.5, 1.0})
        for (double const noise_sd : {0.0, 0.05}) {
            CAPTURE(step, noise_sd);
            std::mt19937_64 random(11);
            std::normal_distribution<double> noise(0, noise_sd);
            std::uniform_real_distribution<double> place(60, 100), length(70, 400);
            Conditioner conditioner(0, every(1), ProbeJob::liquid);
            Effects out;
            double tip = 97, until = 100, since = 0;
            for (int s = 0; s < 20'000; ++s) {
                if (s > until) {
                    for (double const before = tip; std::abs(tip - before) < 4;)
                        tip = std::round(place(random));
                    until = s + length(random);
                    since = s;
                }
                double const read = noise_sd > 0 ? tip + noise(random) : tip;
                conditioner.take(Reading::good(at(s), step > 0 ? std::round(read / step) * step : read), out);
                if (s - since < 60) continue;
                auto const& signal = conditioner.signal();
                CHECK(std::abs(signal.slope) * 60 < (noise_sd > 0 ? 1.2 : 0.5));
                CHECK(std::abs(tip - signal.level) < 0.3);
            }
        }
}

TEST_CASE("a steady climb is a trend however fast it is, and a long one is soon believed") {
    Conditioner conditioner(0, every(1), ProbeJob::liquid);
    Effects out;
    for (int s = 0; s < 300; ++s) conditioner.take(Reading::good(at(s), 30), out);
    int settled = 0;
    for (int s = 300; s < 420; ++s) {  // a litre of milk on a large flame
        conditioner.take(Reading::good(at(s), 30 + 0.5 * (s - 300)), out);
        settled += conditioner.signal().settled;
    }
    CHECK(settled > 30);
    CHECK_THAT(conditioner.signal().slope, WithinAbs(0.5, 0.05));
}

TEST_CASE("a real step is shown within half a minute at any spacing of the readings") {
    for (double const s : {1.0, 10.0, 20.0, 60.0, 900.0}) {
        CAPTURE(s);
        Conditioner conditioner(0, every(s), ProbeJob::fridge);
        Effects out;
        double t = 0;
        for (int i = 0; i < 40; ++i, t += s) conditioner.take(Reading::good(at(t), 4), out);
        double const began = t;
        while (conditioner.signal().celsius < 12) {
            conditioner.take(Reading::good(at(t), 12), out);
            conditioner.advance(at(t), out);
            CHECK(conditioner.signal().fresh);
            REQUIRE(t - began <= 30);
            t += s;
        }
        SECTION("and nothing is reported missing") {
            for (auto const& effect : out) CHECK(std::get<Recorded>(effect).quality != Quality::rejected);
        }
    }
}

TEST_CASE("what does not look like a step either is held for half a minute at most") {
    Conditioner conditioner(0, every(10), ProbeJob::liquid);
    Effects out;
    double t = 0;
    for (int i = 0; i < 20; ++i, t += 10) conditioner.take(Reading::good(at(t), 86 + 0.2 * (i % 3)), out);
    double const began = t;
    for (double const c : {96.7, 73.5, 39.5, 20.0}) {
        conditioner.take(Reading::good(at(t), c), out);
        if (t - began >= 20) CHECK(conditioner.signal().celsius < 50);
        t += 10;
    }
}

TEST_CASE("a probe that was put elsewhere during a gap has no trend until it has settled there") {
    Conditioner conditioner(0, every(2), ProbeJob::liquid);
    Effects out;
    double t = 0;
    for (; t < 300; t += 2) conditioner.take(Reading::good(at(t), 30 + 0.05 * t), out);
    REQUIRE(conditioner.signal().slope * 60 > 2);
    for (t += 38; t < 350; t += 2) conditioner.take(Reading::good(at(t), 84 + 0.01 * std::fmod(t, 3)), out);
    CHECK_FALSE(conditioner.signal().settled);
    CHECK(conditioner.signal().slope == 0);
}

TEST_CASE("one wild reading a minute apart is doubted until the next one, and not held back") {
    Conditioner conditioner(0, every(60), ProbeJob::fridge);
    Effects out;
    double t = 0;
    for (int i = 0; i < 20; ++i, t += 60) conditioner.take(Reading::good(at(t), 4), out);
    conditioner.take(Reading::good(at(t), 31), out);
    CHECK(conditioner.signal().celsius == 31);
    CHECK(conditioner.signal().doubtful);
    conditioner.take(Reading::good(at(t + 60), 31), out);
    CHECK_FALSE(conditioner.signal().doubtful);
}

TEST_CASE("an instrument that speaks more rarely than the file says is not called silent once it is known") {
    for (double const real : {10.0, 60.0, 900.0}) {
        Conditioner conditioner(0, every(1), ProbeJob::liquid);
        Effects out;
        double t = 0;
        for (int i = 0; i < 6; ++i, t += real) conditioner.take(Reading::good(at(t), 80 + 0.1 * i), out);
        conditioner.advance(at(t - 1), out);
        CHECK(conditioner.signal().fresh);
        CHECK(conditioner.signal().every == from_seconds(real));
        conditioner.advance(at(t + 3 * real), out);
        CHECK_FALSE(conditioner.signal().fresh);
    }
}
