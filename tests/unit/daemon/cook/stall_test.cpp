// A core that stands still: when evaporation explains it, and when it is simply not enough.
#include "daemon/cook/core_estimate.hpp"
#include "daemon/food/step.hpp"
#include "tests/support/catch.hpp"

using namespace ingle;

namespace {

Instant minute(double m) {
    return Instant(from_seconds(60 * m));
}

// From `begin` straight to `level` within two hours; from then on `per_hour` K an hour for 90 min.
CoreEstimate::Answer stands(double begin, double level, double per_hour, double medium, double target) {
    CoreEstimate estimate;
    for (double m = 0; m <= 210; m += 0.5) {
        double const c = m < 120 ? begin + (level - begin) * m / 120 : level + per_hour * (m - 120) / 60;
        estimate.add(minute(m), c, medium);
    }
    return estimate.to(target, target > begin, minute(210));
}

}  // namespace

TEST_CASE("levelled off above 140 degF on the way up: evaporation") {
    auto const answer = stands(4, 68, 0.1, 110, 93);
    CHECK(answer.stalled);
    CHECK_FALSE(answer.unreachable);
    CHECK_FALSE(answer.eta_s.has_value());
}

TEST_CASE("levelled off below 140 degF: no usual stall") {
    auto const answer = stands(4, from_fahrenheit(138), 0.1, 110, 93);
    CHECK_FALSE(answer.stalled);
    CHECK(answer.unreachable);
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
    auto const answer = stands(80, 12, -0.1, 4, 5);
    CHECK_FALSE(answer.stalled);
    CHECK(answer.unreachable);
}
