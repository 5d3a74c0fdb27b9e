// How long it takes to find a schedule, beside what the lengths of a day's stages take to work out, measured
// in the same run; and how it grows with the kitchen. Exit status 1 where the supper of 12 dishes takes more
// than allowed.
#include <algorithm>
#include <chrono>
#include <cstdio>
#include <cstdlib>

#include "daemon/forecast/planned_time.hpp"
#include "daemon/schedule/solver.hpp"
#include "tests/unit/daemon/schedule/random_kitchens.hpp"

namespace {

using namespace ingle::schedule;

constexpr int kitchens = 9, stages = 8, vessels = 8;
constexpr double most_ratio = 0.5;  // of one core's planned time, a tenth of a second on a slow board

template <class Work>
double milliseconds(Work const& work) {
    auto const began = std::chrono::steady_clock::now();
    work();
    return std::chrono::duration<double, std::milli>(std::chrono::steady_clock::now() - began).count();
}

// Every dish with all its stages; time for it grows with the number of dishes.
Problem kitchen(int dishes, std::uint32_t seed) {
    testing::Size size;
    size.dishes = dishes, size.stages = stages, size.vessels = vessels;
    size.slots = 600 + 60 * dishes, size.spread = 30 * dishes;
    size.longest_wait = 80, size.wait_stages = 4, size.longest_stage = 8, size.fixed = false,
    size.all_stages = true;
    return testing::random_kitchen(seed, size);
}

double slowest(int dishes) {
    double most = 0;
    int on_time = 0;
    for (std::uint32_t seed = 1; seed <= kitchens; ++seed) {
        auto const problem = kitchen(dishes, seed);
        most = std::max(most, milliseconds([&] {
                            auto const answer = solve(problem, 40'000);
                            on_time += answer.best && answer.best->late == 0;
                        }));
    }
    std::printf("%2d dishes, %d stages each, %d vessels: slowest of %d %7.1f ms, %d on time\n", dishes,
                stages, vessels, kitchens, most, on_time);
    return most;
}

}  // namespace

int main() {
    ingle::DishEntries entries;
    entries.thickness_m = 0.09;
    double const length = milliseconds([&] { (void)ingle::planned_time(entries, 4, 160, 60); });
    std::printf("one planned time of a core: %.1f ms\n", length);
    double supper = 0;
    for (int const dishes : {2, 4, 8, 12, 20, 30, 40}) {
        double const took = slowest(dishes);
        if (dishes == 12) supper = took;
    }
    std::printf("12 dishes: %.2f of one planned time, at most %.1f\n", supper / length, most_ratio);
    return supper / length <= most_ratio ? EXIT_SUCCESS : EXIT_FAILURE;
}
