// What is told of instruments that show steps of 0.1 to 1 K: a direction only while the steps go on coming,
// and no limit passed that no reading passed. On random ramps and stands of every kind of vessel, through the
// kitchen.
#include <algorithm>
#include <cmath>
#include <cstdio>
#include <string>
#include <vector>

#include "tests/support/catch.hpp"
#include "tests/support/kitchen_run.hpp"
#include "tests/support/long_form.hpp"

using namespace ingle;
using namespace ingle::test;

namespace {

struct Held {
    VesselKind kind;
    double low, high, lively;  // lively: K/min that such a vessel moves by
};
constexpr Held held[] = {{VesselKind::pot, 80, 90, 1},
                         {VesselKind::oven, 150, 170, 4},
                         {VesselKind::fridge, 1, 5, 0.4},
                         {VesselKind::smoker, 100, 120, 3},
                         {VesselKind::bath, 54, 56, 0.6}};

template <std::size_t N>
double one_of(Dice& dice, double const (&values)[N]) {
    return values[std::min(N - 1, static_cast<std::size_t>(dice.uniform() * N))];
}

struct Ramps {
    std::vector<double> read;  // one a second, by a probe with a time constant
    std::vector<double> rate;  // K/min, of what it stands in
};
Ramps ramps_and_stands(Dice& dice, Held const& vessel, double step) {
    double const lag_s = one_of(dice, {2, 10, 30, 60}), noise = one_of(dice, {0.01, 0.03});
    double const width = vessel.high - vessel.low, middle = 0.5 * (vessel.low + vessel.high);
    double medium = middle, tip = middle;
    Ramps ramps;
    while (ramps.read.size() < 2700) {
        bool const first = ramps.read.empty();
        double const lasts_s = first ? 400 : one_of(dice, {60, 120, 200, 300});
        double const way = first ? 0 : one_of(dice, {0, 0, 1, -1});
        double const rate = way * one_of(dice, {0.3, 0.7, 1.5, 3}) * vessel.lively;
        for (int s = 0; s < lasts_s; ++s) {
            double const before = medium;
            medium = std::clamp(medium + rate / 60, vessel.low - 1.2 * width, vessel.high + 1.2 * width);
            tip += (medium - tip) / lag_s;
            ramps.read.push_back(std::round((tip + noise * dice.normal()) / step) * step);
            ramps.rate.push_back((medium - before) * 60);
        }
    }
    return ramps;
}

int direction_told(std::string const& text) {
    return text.find("rising") != std::string::npos ? 1 : text.find("falling") != std::string::npos ? -1 : 0;
}

}  // namespace

TEST_CASE("a direction is told only while the steps go on coming, and a limit passed that a reading passed") {
    int told = 0, directions = 0;
    for (int seed = 0; seed < (long_form() ? 2000 : 200); ++seed) {
        Dice dice(static_cast<std::uint64_t>(5000 + seed));
        auto const& vessel = held[seed % 5];
        double const step = one_of(dice, {0.1, 0.25, 0.5, 1.0});
        auto const ramps = ramps_and_stands(dice, vessel, step);
        Run run(one_vessel(vessel.kind, {{vessel.low, vessel.high}}));
        run.probe("p", [&](double s, Instant at) -> std::optional<Reading> {
            return Reading::good(at, ramps.read[static_cast<std::size_t>(s)]);
        });
        run.until(45);
        for (auto const& effect : run.effects()) {
            auto const* change = std::get_if<AlarmChanged>(&effect);
            if (!change || change->transition != Transition::raised) continue;
            auto const now = ramps.read.begin() + std::lround(60 * run.minute(change->at));
            std::string const name(change->alarm.type->name);
            CAPTURE(seed, step, now - ramps.read.begin(), name, change->alarm.text);
            ++told;
            if (name == "above-band") CHECK(*std::max_element(now - 30, now) > vessel.high);
            if (name == "below-band") CHECK(*std::min_element(now - 30, now) < vessel.low);
            int const way = direction_told(change->alarm.text);
            directions += way != 0 ? 1 : 0;
            // Steps that are minutes apart do not show at once that it stands.
            auto const rate = ramps.rate.begin() + (now - ramps.read.begin());
            bool const went = std::any_of(rate - 150, rate, [&](double r) { return r * way > 0; });
            bool const flat = std::all_of(now - 90, now, [&](double c) { return c == *(now - 1); });
            if (way != 0 && !went) CHECK_FALSE(flat);
        }
    }
    CHECK(told > 300);
    CHECK(directions > 150);
}
