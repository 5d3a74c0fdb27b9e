// What is left of a plan, and the word that a dish will be late while something can still be done.
#include "daemon/cook/serving.hpp"

#include <cmath>
#include <vector>

#include "tests/support/catch.hpp"
#include "tests/support/kitchen_run.hpp"

using namespace ingle;
using namespace ingle::test;

namespace {

StageSettings stage(std::string name, std::optional<double> core_c, std::optional<double> time_s = {}) {
    StageSettings s;
    s.name = std::move(name);
    if (core_c) s.until.core = Temperature{*core_c};
    if (time_s) s.until.time = Duration{*time_s};
    return s;
}

constexpr std::int64_t noon_ms = 1'790'000'000'000;

// A roast in an oven at 150 degC whose core follows one exponential; 20 min of rest after 65 degC.
Settings kitchen_with(double serve_after_s) {
    Settings settings = one_vessel(VesselKind::oven, {});
    settings.probes[0].name = "air";
    int const probe = add_probe(settings, "core");
    auto& dish = add_dish(settings, "roast", 0, probe, "");
    dish.plan = "plan";
    dish.serve_at = noon_ms + static_cast<std::int64_t>(serve_after_s * 1000);
    PlanSettings plan;
    plan.name = "plan";
    plan.stages = {stage("roast", 65), stage("rest", {}, 1200)};
    plan.stages[0].vessel = 0;
    plan.stages[0].band = Band{{140}, {180}};
    plan.stage_vessels.resize(2);
    settings.plans.push_back(plan);
    return settings;
}

double core_at(double s) {  // 65 degC after 7,200 s
    double const tau = 7200 / std::log((150.0 - 5) / (150 - 65));
    return 150 - 145 * std::exp(-s / tau);
}

Run roast(double serve_after_s, bool clock = true) {
    Run run(kitchen_with(serve_after_s));
    run.probe("air", [](double, Instant at) { return Reading::good(at, 150); });
    run.probe("core", [](double s, Instant at) { return Reading::good(at, core_at(s)); });
    if (clock) run.tell(ClockAnchor{noon_ms - 5'000'000, true, true});
    run.tell(Begin{0});
    return run;
}

}  // namespace

TEST_CASE("what is left of a plan") {
    std::vector<StageSettings> plan{stage("roast", 65), stage("rest", {}, 1200), stage("serve", {})};
    StageSoFar so_far;
    so_far.elapsed = so_far.counted = std::chrono::minutes(10);
    so_far.core.eta_s = 3000, so_far.core.low_half_s = 2000;
    auto left = left_of_plan(plan, so_far);
    CHECK(left.complete);
    CHECK(left.least_s == 1200);
    CHECK(left.soon_s == 3200);
    CHECK(left.likely_s == 4200);
    so_far.core = {};  // no estimate
    left = left_of_plan(plan, so_far);
    CHECK_FALSE(left.complete);
    CHECK(left.likely_s == 1200);
    so_far.core_reached = true;
    CHECK(left_of_plan(plan, so_far).complete);
    plan[0] = stage("poach", {}, 7200);
    plan[0].at_least = Duration{1200};
    CHECK(left_of_plan(plan, so_far).likely_s == 7200 - 600 + 1200);
    plan[0].until.time.reset();
    CHECK(left_of_plan(plan, so_far).likely_s == 600 + 1200);
}

TEST_CASE("late for serving is told while something can be done, and only then") {
    auto run = roast(7800);  // 8,400 s are needed
    run.until(100);
    auto const told = run.alarms("late-for-serving");
    REQUIRE(told.size() == 1);
    CHECK(told[0].raised < 90);
    CHECK(told[0].text.find("will probably be late") != std::string::npos);
    CHECK(told[0].text.find("may go up to") != std::string::npos);
    CHECK(told[0].text.find("What helps: ") != std::string::npos);  // and that was tried

    auto fits = roast(10'800);
    fits.until(115);
    CHECK(fits.alarms("late-for-serving").empty());
}

TEST_CASE("a restart and a silent core are no word that the dish will be in time") {
    Run run(kitchen_with(7800));
    run.probe("air", [](double, Instant at) { return Reading::good(at, 150); });
    run.probe("core", [](double s, Instant at) -> std::optional<Reading> {
        if (s > 80 * 60 && s < 105 * 60) return std::nullopt;
        return Reading::good(at, core_at(s));
    });
    run.tell(ClockAnchor{noon_ms - 5'000'000, true, true});
    run.tell(Begin{0});
    run.until(60);
    REQUIRE(run.alarms("late-for-serving").size() == 1);
    run.restart(std::chrono::seconds(20));
    run.tell(ClockAnchor{noon_ms - 5'000'000, true, true});
    run.until(130);
    REQUIRE(run.alarms("late-for-serving").size() == 1);
    CHECK_FALSE(run.alarms("late-for-serving")[0].cleared);
}

TEST_CASE("without a certain clock nothing is said of a serving time") {
    auto run = roast(7800, false);
    run.until(100);
    CHECK(run.alarms("late-for-serving").empty());
}
