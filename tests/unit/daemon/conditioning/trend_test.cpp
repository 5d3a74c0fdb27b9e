// The level-and-trend filter and what is predicted from it.
#include "daemon/conditioning/trend.hpp"

#include <algorithm>
#include <cmath>
#include <random>
#include <vector>

#include "daemon/conditioning/crossing.hpp"
#include "tests/support/catch.hpp"

using namespace ingle;

namespace {

Prospect from(Trend const& t) {
    return {t.level(),      t.slope(), t.level_variance(), t.covariance(), t.slope_variance(),
            t.slope_walk(), 1.0};
}

}  // namespace

TEST_CASE("steady state is Kalata's alpha-beta filter") {
    // Kalata 1984: tracking index 0.1 gives r = 0.8, alpha = 0.36, beta = 0.08. index = sqrt(q dt³) / noise.
    Trend trend(0.01);
    for (int i = 0; i < 2000; ++i) trend.take(1, 20, 1);
    CHECK_THAT(trend.level_gain(), WithinAbs(0.36, 1e-9));
    CHECK_THAT(trend.slope_gain(), WithinAbs(0.08, 1e-9));
    SECTION("also at 5 s and another noise") {
        Trend slow(0.01 * 0.25 / 125);
        for (int i = 0; i < 2000; ++i) slow.take(5, 20, 0.5);
        CHECK_THAT(slow.level_gain(), WithinAbs(0.36, 1e-9));
        CHECK_THAT(slow.slope_gain() * 5, WithinAbs(0.08, 1e-9));
    }
}

TEST_CASE("innovations of white data are white, of variance 1") {
    std::mt19937_64 random(11);
    std::normal_distribution<double> noise(0, 0.1);
    for (double const slope : {0.0, 0.02}) {
        Trend trend(8e-8);
        double sum = 0, squares = 0, lagged = 0, last = 0;
        int n = 0;
        for (int i = 0; i < 20000; ++i) {
            double const z = trend.take(1, 20 + slope * i + noise(random), 0.1);
            if (i < 500) continue;
            sum += z;
            squares += z * z;
            lagged += z * last;
            last = z;
            ++n;
        }
        CHECK_THAT(sum / n, WithinAbs(0, 0.03));
        CHECK_THAT(squares / n, WithinAbs(1, 0.1));
        CHECK_THAT(lagged / squares, WithinAbs(0, 0.1));
    }
}

TEST_CASE("the stated variances are honest: the truth wanders as assumed") {
    std::mt19937_64 random(5);
    std::normal_distribution<double> normal(0, 1);
    double const q = 8e-8, noise = 0.1;
    double level_ratio = 0, slope_ratio = 0, ahead_ratio = 0;
    int const runs = 1500;
    for (int run = 0; run < runs; ++run) {
        Trend trend(q);
        double level = 80, slope = 0.01 * normal(random);
        auto const move = [&] {
            level += slope;
            slope += std::sqrt(q) * normal(random);
        };
        for (int i = 0; i < 300; ++i) {
            trend.take(1, level + noise * normal(random), noise);
            if (i < 299) move();
        }
        level_ratio += std::pow(level - trend.level(), 2) / trend.level_variance() / runs;
        slope_ratio += std::pow(slope - trend.slope(), 2) / trend.slope_variance() / runs;
        Normal const ahead = predicted(from(trend), 300);
        for (int i = 0; i < 300; ++i) move();
        ahead_ratio += std::pow(level - ahead.mean, 2) / ahead.variance / runs;
    }
    // Chi-square with 1 degree of freedom over 1500 runs: mean 1, standard error 0.037.
    CHECK_THAT(level_ratio, WithinAbs(1, 0.15));
    CHECK_THAT(slope_ratio, WithinAbs(1, 0.15));
    CHECK_THAT(ahead_ratio, WithinAbs(1, 0.15));
}

TEST_CASE("the chance and the time of crossing agree with simulated futures") {
    std::mt19937_64 random(9);
    std::normal_distribution<double> normal(0, 1);
    Prospect const p{86, 0.006, 0.004, 1e-5, 2e-6, 2e-8, 0.95};
    double const limit = 88;
    int const runs = 8000;
    std::vector<double> first;  // of those that crossed within the hour
    int beyond = 0;
    double const keep = std::pow(0.95, 1.0 / 60);
    double const spread = std::sqrt(p.level_variance), along = p.covariance / p.level_variance;
    double const rest = std::sqrt(p.slope_variance - along * p.covariance);
    for (int run = 0; run < runs; ++run) {
        double const off = spread * normal(random);
        double level = p.level + off, slope = p.slope + along * off + rest * normal(random);
        bool crossed = false;
        for (int t = 1; t <= 3600; ++t) {
            level += slope;
            slope = slope * keep + std::sqrt(p.slope_walk) * normal(random);
            if (t == 300) beyond += level > limit;
            if (!crossed && level > limit) {
                crossed = true;
                first.push_back(t);
            }
        }
    }
    CHECK_THAT(chance_beyond(p, limit, Side::above, 300),
               WithinAbs(static_cast<double>(beyond) / runs, 0.02));
    std::sort(first.begin(), first.end());
    CrossingTime const time = time_to_cross(p, limit, Side::above, 3600, 0.8);
    REQUIRE(time.eta_s);
    REQUIRE(time.low_s);
    CHECK_THAT(*time.low_s, WithinRel(first[runs / 10], 0.06));
    // The chance at one moment is a little below that of having crossed by then, so the median is a bit late.
    CHECK_THAT(*time.eta_s, WithinRel(first[runs / 2], 0.12));
    CHECK(*time.low_s < *time.eta_s);
}

TEST_CASE("crossing: already there, never, and mirrored") {
    Prospect p{85, 0.01, 1e-4, 0, 1e-8, 0, 0.95};
    CHECK_THAT(chance_beyond(p, 84, Side::above, 60), WithinAbs(1, 1e-9));
    CHECK(*time_to_cross(p, 84, Side::above, 600).eta_s == 0);
    CHECK_FALSE(time_to_cross(p, 80, Side::below, 3600).eta_s);
    // With 0.95 kept a minute, 0.01 K/s carries no further than 0.01 * 1170 s = 11.7 K.
    CHECK_FALSE(time_to_cross(p, 97.5, Side::above, 1e6).eta_s);
    Prospect const mirrored{-85, -0.01, 1e-4, 0, 1e-8, 0, 0.95};
    CHECK_THAT(*time_to_cross(p, 88, Side::above, 3600).eta_s,
               WithinAbs(*time_to_cross(mirrored, -88, Side::below, 3600).eta_s, 0.1));
    p.kept_per_minute = 1;
    CHECK_THAT(*time_to_cross(p, 88, Side::above, 3600).eta_s, WithinAbs(300, 1));
}
