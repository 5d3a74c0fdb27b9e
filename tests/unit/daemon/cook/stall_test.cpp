// A core that stands still: when evaporation explains it, and when it is simply not enough.
#include "daemon/forecast/core_forecast.hpp"
#include "tests/support/catch.hpp"

using namespace ingle;

namespace {

Instant minute(double m) {
    return Instant(from_seconds(60 * m));
}

// From `begin` straight to `level` within two hours; from then on `per_hour` K an hour for 90 min.
CoreForecast::Answer stands(double begin, double level, double per_hour, double medium, double target,
                            Surroundings where = Surroundings::smoker) {
    CoreForecast forecast;
    forecast.begin({std::nullopt, std::nullopt, std::nullopt, where});
    for (double m = 0; m <= 210; m += 0.5) {
        double const c = m < 120 ? begin + (level - begin) * m / 120 : level + per_hour * (m - 120) / 60;
        forecast.add(minute(m), c, medium);
    }
    return forecast.to(target, target > begin, minute(210));
}

}  // namespace

TEST_CASE("levelled off above 140 degF on the way up: evaporation") {
    auto const answer = stands(4, 68, 0.1, 110, 93);
    CHECK(answer.stalled);
    CHECK_FALSE(answer.unreachable);
    // It ends in one hour or in several: an answer, if there is one, says so.
    CHECK((!answer.eta_s || *answer.high_s - *answer.low_s > 3600));
}

// A wet surface levels off anywhere between 108 and 163 degF (psychrometrics at 200 to 275 degF), so that it
// does not get there is not known; but nobody is told that standing still down there is usual.
TEST_CASE("levelled off below 140 degF in air: no usual stall, and not unreachable") {
    auto const answer = stands(4, (138 - 32) / 1.8, 0.1, 110, 93);
    CHECK_FALSE(answer.stalled);
    CHECK_FALSE(answer.unreachable);
}

TEST_CASE("levelled off in liquid: nothing dries there") {
    auto const answer = stands(4, 58, 0.1, 85, 74, Surroundings::liquid);
    CHECK_FALSE(answer.stalled);
    CHECK(answer.unreachable);
    CHECK_FALSE(answer.eta_s.has_value());
}

TEST_CASE("a core that falls has not levelled off") {
    for (double const level : {55.0, 68.0, 80.0}) {
        auto const answer = stands(4, level, -6, 110, 93);
        INFO(level);
        CHECK_FALSE(answer.stalled);
        CHECK_THAT(answer.why, INGLE_CONTAINS("away from its target"));
    }
}

TEST_CASE("what is chilled and stands still is not chilled by evaporation") {
    auto const answer = stands(80, 12, -0.1, 4, 5, Surroundings::cold);
    CHECK_FALSE(answer.stalled);
    CHECK(answer.unreachable);
}
