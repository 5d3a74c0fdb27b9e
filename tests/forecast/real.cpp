#include "tests/forecast/real.hpp"

#include <cmath>
#include <functional>

#include "tests/support/rows.hpp"

namespace ingle::bench {
namespace {

constexpr double step_s = 5;

double celsius(double fahrenheit) {
    return (fahrenheit - 32) / 1.8;
}

using Points = std::vector<std::pair<double, double>>;

// The target is first reached where the straight line between two noted readings passes it.
SimulatedCook follow(Points const& points, double target, bool heating,
                     std::function<double(double)> medium) {
    SimulatedCook cook;
    cook.target_c = target, cook.heating = heating;
    double const sign = heating ? 1 : -1;
    std::size_t i = 0;
    for (double t = points.front().first; t <= points.back().first; t += step_s) {
        while (i + 2 < points.size() && points[i + 1].first < t) ++i;
        auto const [t0, c0] = points[i];
        auto const [t1, c1] = points[i + 1];
        double const core = c0 + (c1 - c0) * (t - t0) / (t1 - t0);
        cook.samples.push_back({t, core, medium(t)});
        if (sign * (core - target) < 0) continue;
        cook.arrives_s = t;
        break;
    }
    return cook;
}

Points points_of(char const* file, char const* time, double scale, char const* value,
                 char const* key = nullptr, char const* is = "") {
    Points points;
    for (auto const& row : test::rows(file)) {
        if (key && row.at(key) != is) continue;
        if (row.at(value).empty()) continue;
        points.emplace_back(test::number(row, time) * scale, test::number(row, value));
    }
    return points;
}

}  // namespace

std::vector<RealCook> real_cooks() {
    std::vector<RealCook> all;
    for (auto const* year : {"2015"}) {
        auto points = points_of("forecast/data/turkey_oven_2015.csv", "minute", 60, "breast_F", "year", year);
        for (auto& [t, c] : points) c = celsius(c);
        // 500 degF for half an hour, then 350 degF: an oven falls by a time constant of about 10 min.
        auto cook = follow(points, celsius(160), true, [](double t) {
            return t < 1800 ? celsius(500)
                            : celsius(350) + (celsius(500) - celsius(350)) * std::exp(-(t - 1800) / 600);
        });
        cook.entries.surroundings = Surroundings::oven;
        cook.entries.shape = Shape::sphere;
        cook.entries.hollow = true;
        cook.entries.mass_kg = 14 * 0.4536;
        all.push_back({"turkey 2015", std::move(cook)});
    }
    for (auto const* piece : {"A"}) {
        auto const points =
            points_of("forecast/data/beef_small_oven175C.csv", "second", 1, "core_C", "sample", piece);
        auto cook = follow(points, 65, true, [](double) { return 175.0; });
        cook.entries.surroundings = Surroundings::oven;
        cook.entries.shape = Shape::slab;
        cook.entries.thickness_m = 0.0265;
        all.push_back({"beef A", std::move(cook)});
    }
    auto const mug = points_of("forecast/data/water_mug_cooling.csv", "minute", 60, "temp_C");
    auto cook = follow(mug, 40, false, [](double) { return 24.0; });
    cook.entries.surroundings = Surroundings::cold;
    cook.entries.liquid = true;
    all.push_back({"mug to 40 degC", std::move(cook)});
    return all;
}

}  // namespace ingle::bench
