// What is to be heard of a notice, as numbers: how many strokes, how long, how loud, at which frequency.
#include <algorithm>
#include <cmath>
#include <numbers>

#include "daemon/notices/sound/pattern.hpp"
#include "tests/support/catch.hpp"

using namespace ingle;
using namespace std::chrono_literals;

namespace {

Notice notice(std::string priority, std::string kind = "raised") {
    Notice one;
    one.kind = std::move(kind);
    one.priority = std::move(priority);
    return one;
}

double effective(std::vector<std::int16_t> const& samples) {
    double sum = 0;
    for (auto const each : samples) sum += static_cast<double>(each) * each;
    return std::sqrt(sum / static_cast<double>(samples.size()));
}

// Share of the power at one frequency (a single term of the discrete Fourier transform).
double power_at(std::vector<std::int16_t> const& samples, double hertz) {
    double re = 0, im = 0;
    for (std::size_t i = 0; i < samples.size(); ++i) {
        double const angle = 2 * std::numbers::pi * hertz * static_cast<double>(i) / sound::samples_per_s;
        re += samples[i] * std::cos(angle);
        im += samples[i] * std::sin(angle);
    }
    return re * re + im * im;
}

}  // namespace

TEST_CASE("the more urgent and the longer unattended, the more, the louder and the closer together") {
    auto const strokes = [](char const* priority, int step) {
        return sound::strokes_of(notice(priority), step, 1.0);
    };
    CHECK(strokes("low", 0).size() == 1);
    CHECK(strokes("medium", 0).size() == 3);
    CHECK(strokes("high", 0).size() == 8);
    CHECK(strokes("high", 2).size() == 16);
    for (auto const* priority : {"low", "medium", "high"}) {
        for (int step = 0; step < sound::highest_step; ++step) {
            auto const now = strokes(priority, step), then = strokes(priority, step + 1);
            CHECK(effective(sound::samples_of(then)) > 1.5 * effective(sound::samples_of(now)));
            CHECK(then.front().gap < now.front().gap);
            CHECK(then.size() >= now.size());
        }
        CHECK(sound::length_of(strokes(priority, 2)) < 6s);
        CHECK(strokes(priority, 9).size() == strokes(priority, 2).size());
    }
    auto const loud = [&](char const* priority) {
        return effective(sound::samples_of(strokes(priority, 0)));
    };
    CHECK(loud("high") > loud("medium") * 0.9);
    CHECK(sound::strokes_of(notice("high", "cleared"), 2, 1.0).empty());
    auto const test = sound::strokes_of(notice("low", "test"), 0, 1.0);
    CHECK(test.size() == 1 + 3 + 8);
    CHECK(sound::length_of(test) < 8s);
}

TEST_CASE("an alarm's age is what it says, and what has passed since") {
    auto one = notice("high");
    CHECK(sound::step_of(one) == 0);
    CHECK(sound::step_of(one, 119s) == 0);
    CHECK(sound::step_of(one, 120s) == 1);
    CHECK(sound::step_of(one, 600s) == 2);
    CHECK(sound::step_of(notice("high", "reminder")) == 1);
    CHECK(sound::step_of(notice("high", "reminder"), 480s) == 2);
    one.since = "2026-11-26T16:00:00-05:00";
    one.at = "2026-11-26T21:09:59+00:00";
    CHECK(sound::step_of(one) == 1);
    CHECK(sound::step_of(one, 1s) == 2);
}

TEST_CASE("a stroke has its tone, no click, and never more than full scale") {
    auto const samples = sound::samples_of({{930, 1.0, 170ms, 150ms}});
    REQUIRE(samples.size() == 320 * 48);
    CHECK(power_at(samples, 930) > 20 * power_at(samples, 775));
    CHECK(power_at(samples, 930) > 2 * power_at(samples, 1860));
    CHECK(power_at(samples, 1860) > 20 * power_at(samples, 1500));
    CHECK(std::ranges::all_of(samples.begin() + 170 * 48, samples.end(), [](auto s) { return s == 0; }));
    int steepest = 0, highest = 0;
    for (std::size_t i = 1; i < samples.size(); ++i) {
        steepest = std::max(steepest, std::abs(samples[i] - samples[i - 1]));
        highest = std::max(highest, std::abs(static_cast<int>(samples[i])));
    }
    // The steepest of its three sines together, at full scale: a jump would be more.
    CHECK(steepest < 32'767 * 2 * std::numbers::pi * 930 / 48'000 * (0.6 + 2 * 0.28 + 3 * 0.12));
    CHECK(std::abs(static_cast<int>(samples.front())) < 100);
    CHECK(std::abs(static_cast<int>(samples[170 * 48 - 1])) < 200);
    CHECK(highest > 10'000);
}
