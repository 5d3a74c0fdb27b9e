// What cooks already, as a schedule takes it.
#include "daemon/schedule/schedule.hpp"

#include "daemon/schedule/cooking.hpp"
#include "daemon/schedule/latest_begin.hpp"
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

TEST_CASE("of two stages with one name the running one is meant") {
    std::string const simmer =
        "[[stage]]\nname = \"simmer\"\ndoes = \"cook\"\nuntil = { time = \"45 min\" }\n";
    std::string const skim = "[[stage]]\nname = \"skim\"\ndoes = \"cook\"\nuntil = { time = \"10 min\" }\n";
    Case const one(kitchen + dish("hen", "stew", joint), {{"stew", simmer + skim + simmer}});
    Cooking cooks;
    cooks.dish = "hen", cooks.stage = "simmer", cooks.place = 2;
    CHECK(running_dishes({cooks}, one.settings, eight).at(0).stage == 2);
    cooks.place = 0;
    CHECK(running_dishes({cooks}, one.settings, eight).at(0).stage == 0);
    cooks.place = 1;  // the plan was edited since
    CHECK(running_dishes({cooks}, one.settings, eight).at(0).stage == 0);
    cooks.place = 7;
    CHECK(running_dishes({cooks}, one.settings, eight).at(0).stage == 0);
}

TEST_CASE("what cooks by the clock is not ready before its core is, as that is forecast") {
    std::string const rest =
        "[[stage]]\nname = \"rest\"\ndoes = \"rest\"\nvessel = \"none\"\nuntil = { time = \"3 min\" }\n";
    std::string const simmer =
        "[[stage]]\nname = \"simmer\"\ndoes = \"cook\"\nuntil = { time = \"45 min\" }\n";
    Case const one(kitchen + dish("hen", "simmer", joint), {{"simmer", simmer + rest}});
    Running hen{0, 0, eight - 600};
    hen.clock_left_s = 2100, hen.core_c = 6;
    // Nothing is forecast: the plan is all that is known.
    CHECK(one.made(eight, {hen}).dishes.at(0).ready_at == eight + 2100 + 180);
    hen.left_s = 14'400, hen.left_low_s = 12'000, hen.left_high_s = 18'000;
    for (bool const over : {false, true}) {
        INFO(over);
        hen.over = over;
        auto const made = one.made(eight, {hen});
        auto const& plan = made.dishes.at(0);
        CHECK(plan.ready_at == eight + 14'400 + 180);
        CHECK(plan.ready_early.value() >= eight + 12'000);
        CHECK_THAT(plan.stages.at(0).length.source, INGLE_CONTAINS("the forecast of now"));
    }
    // The core is there, or a later stage is to bring it there: the clock alone.
    hen.over = false, hen.core_there = true;
    CHECK(one.made(eight, {hen}).dishes.at(0).ready_at == eight + 2100 + 180);
    hen.core_there = false;
    Case const two(kitchen + dish("hen", "both", joint), {{"both", simmer + roast}});
    CHECK(two.made(eight, {hen}).dishes.at(0).stages.at(0).end == eight + 2100);
}

TEST_CASE("what cooks and cannot wait until it is served ends a little sooner where it is in the way") {
    std::string const hold =
        "[[stage]]\nname = \"keep\"\ndoes = \"hot-hold\"\nvessel = \"none\"\nat-most = \"1 h\"\n";
    std::string const carve =
        "[[stage]]\nname = \"carve\"\ndoes = \"rest\"\nvessel = \"none\"\nuntil = { time = \"15 min\" "
        "}\nhands = \"15 min\"\n";
    // The joint is carved from 9:00 to 9:15 at the latest; the tart is to be put in at 9:05.
    Case const one(kitchen + dish("joint", "keep", joint) +
                       dish("tart", "bake", "serve-at = \"2026-11-26T09:50:00Z\"\n"),
                   {{"keep", hold + carve}, {"bake", bake}});
    auto const made = one.made(eight, {Running{0, 0, eight}});
    CHECK(made.fits);
    auto const& tart = made.dishes.at(1);
    CHECK(tart.stages.at(0).begin == eight + 3900);
    CHECK(made.dishes.at(0).ready_at.value() <= tart.stages.at(0).begin);
    Wanted const wanted{one.settings, {}, eight, {Running{0, 0, eight}}};
    auto const begin = latest_begin(wanted, 1).value();
    CHECK(begin.likely == eight + 3900);
    CHECK_FALSE(begin.nine_of_ten);
}

TEST_CASE("a time that counts in the band waits until the heat is back that a cold dish took") {
    std::string const hot = bake + "band = [\"385 degF\", \"415 degF\"]\n";
    auto const late = [&](std::string const& stages) {
        Case const one(kitchen + dish("tart", "bake", at_five), {{"bake", stages}});
        auto const made = one.made(eight, {});
        auto const& tart = made.dishes.at(0);
        CHECK(tart.stages.at(0).length.exact());
        CHECK(tart.ready_at == five);
        CHECK(tart.chance.value() > 0.99);
        return tart.ready_late.value() - five;
    };
    CHECK(late(bake) >= 120);
    CHECK(late(hot) >= late(bake) + 180);
    CHECK(late(hot) <= late(bake) + 600);
}
