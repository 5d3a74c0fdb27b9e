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
    void tell(Command const& command) { kitchen.command(now, command, effects); }
    DishView dish() const { return kitchen.view().dishes.at(0); }
    // Of the only reminder.
    bool is_due() const { return kitchen.view().reminders.at(0).due.has_value(); }
};

void remind_at_its_end(Run& run) {
    Remind remind;
    remind.text = "take it out", remind.stage_end = true, remind.about = {SubjectKind::dish, 0};
    run.tell(remind);
}

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

TEST_CASE("a reminder of a stage's end stays with that stage where the plan is edited") {
    Run run(hall({{"salt", 20}, {"poach", 60}, {"rest", 30}}));
    run.tell(Begin{0});
    run.until(5);
    run.tell(Next{0});
    remind_at_its_end(run);
    run.until(20);
    std::vector<std::vector<Named>> const plans{
        {{"salt", 20}, {"dry", 10}, {"poach", 60}, {"rest", 30}},  // one more before it
        {{"poach", 60}, {"rest", 30}},                             // one less
        {{"rest", 30}, {"salt", 20}, {"poach", 60}},               // in another order
        {{"salt", 20}, {"simmer", 60}, {"rest", 30}},              // by another name
        {{"salt", 20}, {"smoke", 60}},                             // not there: by the plan it began with
    };
    for (auto const& plan : plans) {
        INFO(plan.size() << ", first " << plan.front().stage);
        Reloaded hall_then(run, hall(plan));
        auto const stage = hall_then.dish().stage;
        CHECK_FALSE(hall_then.is_due());
        hall_then.pass(std::chrono::minutes(10));
        CHECK(hall_then.dish().stage == stage);
        CHECK_FALSE(hall_then.is_due());
        hall_then.tell(Next{0});
        hall_then.pass(std::chrono::seconds(1));
        CHECK(hall_then.dish().stage != stage);
        CHECK(hall_then.is_due());
        hall_then.tell(Back{0});
        hall_then.pass(std::chrono::seconds(1));
        CHECK(hall_then.dish().stage == stage);
        CHECK_FALSE(hall_then.is_due());
    }
}

TEST_CASE("a reminder of a stage that is over stays due where the plan is edited") {
    Run run(hall({{"salt", 20}, {"poach", 60}, {"rest", 30}}));
    run.tell(Begin{0});
    remind_at_its_end(run);
    run.until(5);
    run.tell(Next{0});
    run.until(6);
    Reloaded later(run, hall({{"dry", 10}, {"salt", 20}, {"poach", 60}, {"rest", 30}}));
    CHECK(later.is_due());
    CHECK(later.dish().stage == "poach");
    later.tell(Back{0});
    later.pass(std::chrono::seconds(1));
    CHECK(later.dish().stage == "salt");
    CHECK_FALSE(later.is_due());  // it waits again
    later.tell(Next{0});
    later.pass(std::chrono::seconds(1));
    CHECK(later.is_due());
}
