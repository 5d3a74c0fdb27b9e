// A cook over a restart or a reload, with its plan as it was and with one that was edited meanwhile.
#include <algorithm>

#include "config/load.hpp"
#include "tests/support/catch.hpp"
#include "tests/support/kitchen_run.hpp"

using namespace ingle;
using namespace ingle::test;

namespace {

struct Named {
    char const* stage;
    int minutes;
};

// As its plan file would have it.
PlanSettings plan_of(std::vector<Named> const& stages) {
    std::string text = "name = \"supper\"\n\n";
    for (auto const& one : stages)
        text += "[[stage]]\nname = \"" + std::string(one.stage) +
                "\"\nband = [\"60 degC\", \"70 degC\"]\nuntil = { time = \"" + std::to_string(one.minutes) +
                " min\" }\n\n";
    std::vector<ConfigError> errors;
    auto plan = read_plan(text, "supper.toml", errors);
    REQUIRE(errors.empty());
    return plan;
}

Settings hall(std::vector<Named> const& stages) {
    auto settings = one_vessel(VesselKind::pot, {});
    add_dish(settings, "roll", 0, add_probe(settings, "core"));
    if (stages.empty()) return settings;
    settings.dishes[0].plan = "supper";
    settings.plans.push_back(plan_of(stages));
    return settings;
}

// The same kitchen with this plan from now on; nothing is read in it.
struct Reloaded {
    Kitchen kitchen;
    Instant now;
    Effects effects;
    Reloaded(Run& run, Settings const& settings) : kitchen(settings, run.now()), now(run.now()) {
        kitchen.recall(run.kitchen().remember(), now, effects);
        pass(std::chrono::seconds(1));
    }
    void pass(Span length) { kitchen.advance(now += length, effects); }
    DishView dish() const { return kitchen.view().dishes.at(0); }
};

}  // namespace

TEST_CASE("a stage called done is a stage like any other: it goes on over a restart") {
    std::vector<std::vector<Named>> const plans{{{"poach", 30}, {"done", 60}}, {{"done", 60}, {"rest", 30}}};
    for (auto const& stages : plans) {
        Run run(hall(stages));
        run.probe("p", probe_of(Series{{0, 65}, {600, 65}}));
        run.tell(Begin{0});
        run.until(10);
        if (run.kitchen().view().dishes[0].stage != "done") run.tell(Next{0});
        run.until(15);
        auto const before = run.kitchen().view();
        REQUIRE(before.dishes[0].stage == "done");
        REQUIRE(before.vessels[0].band);
        run.restart();
        auto const after = run.kitchen().view();
        CHECK(after.dishes[0].stage_number == before.dishes[0].stage_number);
        CHECK(after.dishes[0].clock.left == before.dishes[0].clock.left);
        CHECK(after.vessels[0].band == before.vessels[0].band);
        run.tell(End{0});
        run.tell(Back{0});
        CHECK(run.kitchen().view().vessels[0].band == before.vessels[0].band);
    }
}

TEST_CASE("what is done stays done over a restart, whatever its stages are called and its plan is now") {
    std::vector<std::vector<Named>> const plans{{{"poach", 30}}, {{"done", 60}}, {}};
    for (auto const& stages : plans) {
        Run run(hall(stages));
        run.tell(Begin{0});
        run.until(10);
        run.tell(Next{0});
        auto const done = run.kitchen().view().dishes[0].stage_number;
        REQUIRE(done == 1);
        run.restart();
        CHECK(run.kitchen().view().dishes[0].begun);
        CHECK(run.kitchen().view().dishes[0].stage_number == done);
        Reloaded const longer(run, hall({{"done", 60}, {"poach", 30}, {"rest", 10}}));
        CHECK(longer.dish().stage == "done");
        CHECK_FALSE(longer.kitchen.view().vessels[0].band);
    }
}
