#include "daemon/cook/plan_choice.hpp"

#include <initializer_list>

#include "tests/support/catch.hpp"

using namespace ingle;

namespace {

std::vector<StageSettings> stages(std::initializer_list<char const*> names) {
    std::vector<StageSettings> list;
    for (auto const* name : names) list.emplace_back().name = name;
    return list;
}

PlanChoice choose(std::initializer_list<char const*> before, std::initializer_list<char const*> now,
                  std::size_t place, NowPlan plan = NowPlan::same) {
    return choose_plan(stages(before), stages(now), place, plan);
}

}  // namespace

TEST_CASE("a stage is found by its name wherever it stands now") {
    auto const moved = choose({"brine", "poach", "rest"}, {"brine", "dry", "poach", "rest"}, 1);
    CHECK(moved.edited);
    CHECK(moved.stage == 2);
    CHECK(choose({"brine", "poach"}, {"brine", "poach", "rest"}, 1).edited);
}

TEST_CASE("a running stage that alone has another name is the same stage") {
    auto const renamed = choose({"brine", "poach", "rest"}, {"brine", "simmer", "rest"}, 1);
    CHECK(renamed.edited);
    CHECK(renamed.stage == 1);
}

TEST_CASE("in another plan, or in none, a stage is the same one only by its name") {
    CHECK_FALSE(choose({"brine"}, {"cook"}, 0, NowPlan::another).edited);
    CHECK_FALSE(choose({"brine", "poach"}, {"smoke", "poach"}, 0, NowPlan::another).edited);
    CHECK(choose({"brine", "poach"}, {"soak", "dry", "poach"}, 1, NowPlan::another).edited);
}

TEST_CASE("where it is not clear which stage is meant the plan that the cook began with goes on") {
    for (auto const& choice : {choose({"brine", "poach", "rest"}, {"brine", "rest"}, 1),
                               choose({"brine", "poach", "rest"}, {"smoke", "simmer", "rest"}, 1),
                               choose({"brine", "poach"}, {"rest", "rest", "bake"}, 1),
                               choose({"rest", "poach"}, {"bake", "poach", "rest", "chill", "rest"}, 0)}) {
        CHECK_FALSE(choice.edited);
    }
    auto const done = choose({"brine", "poach"}, {"brine", "poach", "rest"}, 2);
    CHECK_FALSE(done.edited);
    CHECK(done.stage == 2);
}
