// Oil into which cold food goes falls and comes back by itself: nobody is told to turn the heat for that.
#include <algorithm>
#include <cmath>
#include <functional>
#include <string>
#include <vector>

#include "tests/support/catch.hpp"
#include "tests/support/kitchen_run.hpp"

using namespace ingle;
using namespace ingle::test;

namespace {

std::vector<std::string> leaving(std::function<double(double)> level, double minutes) {
    auto settings = one_vessel(VesselKind::pot, {{170, 185}});
    settings.vessels[0].liquid = Liquid::fat;
    settings.channels.push_back({.name = "phone", .kind = "webhook", .least = Priority::low});
    Run run(settings);
    run.probe("p", probe_of([=](double m) { return std::optional(level(m)); }, 5, 0.15, 0.25));
    run.until(minutes);
    std::vector<std::string> texts;
    for (auto const& effect : run.effects())
        if (auto const* change = std::get_if<AlarmChanged>(&effect);
            change && change->alarm.type->name == "leaving-band")
            texts.push_back(change->alarm.text);
    return texts;
}

bool orders(std::vector<std::string> const& texts) {
    return std::ranges::any_of(
        texts, [](std::string const& text) { return text.find("Turn the heat") != std::string::npos; });
}

}  // namespace

TEST_CASE("oil that cold food went into is on its way back: no order to turn the heat") {
    double const depth_k = GENERATE(5, 8, 15, 25), fall_min = GENERATE(0.5, 1, 2), tau_min = GENERATE(2, 5);
    CAPTURE(depth_k, fall_min, tau_min);
    auto const texts = leaving(
        [=](double m) {
            double dip = 0;
            for (double const at : {30.0, 60.0}) {
                double const since = m - at;
                if (since > 0)
                    dip += since < fall_min ? depth_k * since / fall_min
                                            : depth_k * std::exp(-(since - fall_min) / tau_min);
            }
            return 178 - dip;
        },
        90);
    CHECK_FALSE(orders(texts));
}

TEST_CASE("oil that drifts, or climbs on past where it stood, is told with what to do") {
    bool const after_food = GENERATE(true, false);
    double const to = GENERATE(150, 210);
    if (after_food && to < 178) return;
    CAPTURE(after_food, to);
    double const pace = after_food ? 2.0 : to > 178 ? 0.7 : -0.7;  // K/min
    auto const texts = leaving(
        [=](double m) {
            if (m < 30) return 178.0;
            if (after_food && m < 31) return 178 - 10 * (m - 30);
            double const begin = after_food ? 168 : 178, since = m - (after_food ? 31 : 30);
            return pace > 0 ? std::min(to, begin + pace * since) : std::max(to, begin + pace * since);
        },
        50);
    CHECK(orders(texts));
}
