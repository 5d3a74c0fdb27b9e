// What cooks already, as a schedule takes it.
#include "daemon/schedule/schedule.hpp"

#include "daemon/schedule/cooking.hpp"
#include "tests/unit/daemon/schedule/hall.hpp"

using namespace ingle;
using namespace ingle::schedule;
using namespace ingle::schedule::hall;

TEST_CASE("what cooks together is planned on; where their bands exclude each other the later one is told") {
    auto const hot = bake + "band = [\"385 degF\", \"415 degF\"]\n";
    Case const one(kitchen + dish("joint", "roast", joint) + dish("tart", "bake", at_five) +
                       dish("pie", "bake", at_five),
                   {{"roast", roast + kept}, {"bake", hot + kept}});
    Running const first{0, 0, eight - 600}, tart{1, 0, eight - 300}, pie{2, 0, eight - 200};
    auto const made = one.made(eight, {first, tart});
    REQUIRE(made.dishes.size() == 3);
    CHECK(made.dishes[1].state == State::impossible);
    CHECK_FALSE(made.dishes[1].ready_at);
    CHECK(made.dishes[2].state == State::fits);
    REQUIRE(made.conflicts.size() == 1);
    CHECK_THAT(made.conflicts[0].text, INGLE_CONTAINS("degC for joint (roast), and bake of tart asks for"));
    CHECK(made.conflicts[0].dishes == std::vector{0, 1});
    // More of one band than there is room for: they are there.
    CHECK(one.made(eight, {tart, pie}).conflicts.empty());
}

TEST_CASE("nothing is read and the time stands still, or the core is not known: no end that is known") {
    std::string const chill =
        "[[stage]]\nname = \"chill\"\nvessel = \"fridge\"\nuntil = { core = \"41 degF\" }\n";
    Case const one(kitchen + dish("tart", "bake", at_five) + dish("joint", "chill", joint),
                   {{"bake", bake}, {"chill", roast + chill}});
    Running tart{0, 0, eight - 600}, chills{1, 1, eight - 600};
    tart.clock_left_s = 2100, tart.unread = true;
    auto const made = one.made(eight, {tart, chills});
    CHECK_THAT(made.dishes.at(0).stages.at(0).length.source, INGLE_CONTAINS("nothing is read"));
    CHECK_FALSE(made.dishes[0].ready_late);
    CHECK(made.dishes.at(1).stages.at(0).end > eight + 1800);
}

TEST_CASE("what cooks by a plan that it has no more is not called done") {
    Case const one(kitchen + dish("tart", "bake", at_five), {{"bake", bake}});
    Cooking cooks;
    cooks.dish = "tart", cooks.stage = "brine";
    auto const made = one.made(eight, running_dishes({cooks}, one.settings, eight));
    CHECK_THAT(made.left_out.at(0).why, INGLE_CONTAINS("by the plan that it began with"));
    cooks.stage = "done";
    auto const done = one.made(eight, running_dishes({cooks}, one.settings, eight));
    CHECK(done.left_out.at(0).why == "all its stages are done");
}
