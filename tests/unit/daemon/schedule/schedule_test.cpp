// A kitchen file and its plans, scheduled.
#include "daemon/schedule/schedule.hpp"

#include <algorithm>

#include "daemon/schedule/latest_begin.hpp"
#include "daemon/schedule/nights.hpp"
#include "tests/unit/daemon/schedule/hall.hpp"

using namespace ingle;
using namespace ingle::schedule;
using namespace ingle::schedule::hall;

TEST_CASE("a stage with a time lasts exactly that, and the dish is ready at its serving time") {
    Case const one(kitchen + dish("tart", "bake", at_five), {{"bake", bake}});
    auto const made = one.made();
    REQUIRE(made.fits);
    auto const& stage = made.dishes.at(0).stages.at(0);
    CHECK(stage.end == five);
    CHECK(stage.begin == five - 45 * 60);
    CHECK(stage.latest_begin == stage.begin);
    CHECK(stage.length.exact());
    CHECK(stage.hands == 600);
    CHECK(*made.dishes[0].chance == 1);
}

TEST_CASE("what is uncertain is begun earlier only where the plan has a place to wait") {
    Case const kept_hot(kitchen + dish("joint", "roast", joint), {{"roast", roast + kept}});
    Case const at_once(kitchen + dish("joint", "roast", joint), {{"roast", roast}});
    auto const calm = kept_hot.made().dishes.at(0), tight = at_once.made().dishes.at(0);
    CHECK(calm.state == State::fits);
    CHECK(*calm.chance > 0.85);
    CHECK(calm.stages[0].begin < tight.stages[0].begin);
    CHECK(calm.stages[0].latest_begin == tight.stages[0].begin);
    CHECK(tight.state == State::tight);
    CHECK(*tight.chance > 0.3);
    CHECK(*tight.chance < 0.7);
    CHECK(*tight.ready_at == five);
    REQUIRE(tight.advice.size() == 1);
    CHECK_THAT(tight.advice[0], INGLE_CONTAINS("hot-hold"));
    CHECK(calm.advice.empty());
}

TEST_CASE("a length that is not known is told as unknown, never as sure") {
    Case const by_hand(kitchen + dish("stew", "stew", at_five),
                       {{"stew", "[[stage]]\nname = \"simmer\"\n" + bake}});
    auto const made = by_hand.made();
    auto const& stew = made.dishes.at(0);
    CHECK_FALSE(stew.chance);
    CHECK(stew.state == State::tight);
    CHECK_FALSE(stew.stages[0].length.known);
    CHECK_THAT(stew.stages[0].length.source, INGLE_CONTAINS("unknown"));
    CHECK(stew.advice.empty());
}

TEST_CASE("two dishes of one oven: the conflict names it, and each serving time that is advised works") {
    auto const two = kitchen + dish("tart", "bake", at_five) + dish("loaf", "bake", at_five);
    auto const made = Case(two, {{"bake", bake}}).made();
    CHECK_FALSE(made.fits);
    REQUIRE(made.conflicts.size() == 1);
    auto const& conflict = made.conflicts[0];
    CHECK(conflict.about == About::vessel);
    CHECK(conflict.vessel == 0);
    CHECK(conflict.dishes == std::vector<int>{0, 1});
    CHECK(conflict.when.from == five - 45 * 60);
    CHECK(conflict.when.to == five);
    REQUIRE_FALSE(conflict.remedies.empty());
    int tried = 0;
    for (auto const& remedy : conflict.remedies) {
        auto const clock = remedy.find(" at ");
        if (!remedy.starts_with("serve ")) continue;
        auto changed = two;
        auto const name = remedy.substr(6, 4);
        auto const place = changed.find("T17:00", changed.find("name = \"" + name));
        changed.replace(place, 6, "T" + remedy.substr(clock + 4, 5));
        INFO(remedy);
        CHECK(Case(changed, {{"bake", bake}}).made().fits);
        ++tried;
    }
    CHECK(tried >= 2);
}

TEST_CASE("one pair of hands: both dishes fit the oven, and the cook is in two places") {
    auto roomy = kitchen;
    roomy.replace(roomy.find("kind = \"oven\""), 13, "kind = \"oven\"\nroom-for = 2");
    auto const made =
        Case(roomy + dish("tart", "bake", at_five) + dish("loaf", "bake", at_five), {{"bake", bake}}).made();
    REQUIRE(made.conflicts.size() == 1);
    CHECK(made.conflicts[0].about == About::hands);
    bool helper = false;
    for (auto const& remedy : made.conflicts[0].remedies)
        helper = helper || remedy.starts_with("have somebody else");
    CHECK(helper);
}

TEST_CASE("what is too late already is late, and is told when it will be ready") {
    Case const one(kitchen + dish("tart", "bake", at_five), {{"bake", bake}});
    auto const made = one.made(five - 20 * 60);
    REQUIRE(made.dishes.size() == 1);
    CHECK(made.dishes[0].state == State::late);
    CHECK(*made.dishes[0].ready_at == five + 25 * 60);
    REQUIRE(made.conflicts.size() == 1);
    CHECK(made.conflicts[0].about == About::rule);
    REQUIRE(made.conflicts[0].remedies.size() == 1);
}

TEST_CASE("a stage that takes longer than its plan allows cannot be scheduled") {
    Case const one(kitchen + dish("joint", "roast", joint), {{"roast", roast + "at-most = \"20 min\"\n"}});
    auto const made = one.made();
    CHECK(made.dishes.at(0).state == State::impossible);
    CHECK_FALSE(made.dishes[0].ready_at);
    REQUIRE(made.conflicts.size() == 1);
    CHECK(made.conflicts[0].about == About::rule);
    CHECK_THAT(made.conflicts[0].text, INGLE_CONTAINS("at most"));
}

TEST_CASE("past cooks of a stage and the forecast of now go before what heat conduction says") {
    Case const one(kitchen + dish("joint", "roast", joint), {{"roast", roast}});
    auto const learnt =
        one.made(eight, {}, {{0, 0, 4000}, {0, 0, 5000}, {0, 0, 6000}}).dishes.at(0).stages.at(0);
    CHECK(learnt.length.likely == 5000);
    CHECK_THAT(learnt.length.low, WithinAbs(4200, 1e-6));
    CHECK_THAT(learnt.length.source, INGLE_CONTAINS("3 past cooks"));
    auto const few = one.made(eight, {}, {{0, 0, 4000}, {0, 0, 5000}}).dishes.at(0).stages.at(0);
    CHECK_THAT(few.length.source, INGLE_CONTAINS("conduction"));
    auto const now = one.made(eight, {{0, 0, eight - 600, 3000.0, 2400.0, 4200.0}}).dishes.at(0);
    REQUIRE(now.stages.size() == 1);
    CHECK(*now.ready_at == eight + 3000);
    CHECK(*now.chance == 1);
    CHECK(now.stages[0].began);
    CHECK(now.stages[0].begin == eight - 600);
    CHECK(now.stages[0].length.likely == 3000);
}

TEST_CASE("what has run for longer than was expected is not over by that") {
    Case const one(kitchen + dish("joint", "roast", joint), {{"roast", roast}});
    auto const whole = one.made().dishes.at(0).stages.at(0).length;
    Running running{0, 0, eight - 5 * 86'400};
    auto const unread = one.made(eight, {running}).dishes.at(0);
    CHECK_FALSE(unread.stages.at(0).length.known);
    CHECK_FALSE(unread.chance);
    CHECK_THAT(unread.stages[0].length.source, INGLE_CONTAINS("longer than was expected"));
    running.core_c = 20;  // it is read: heat needs as long as it needs from there
    auto const read = one.made(eight, {running}).dishes.at(0).stages.at(0).length;
    CHECK(read.known);
    CHECK(read.likely > whole.likely / 2);
    CHECK(read.likely < whole.likely);
    running.began = eight - static_cast<Seconds>((whole.likely + whole.high) / 2), running.core_c.reset();
    auto const late = one.made(eight, {running}).dishes.at(0).stages.at(0).length;
    CHECK(late.likely > 0);
    CHECK(late.low == 0);
    running.over = true;
    CHECK(one.made(eight, {running}).dishes.at(0).stages.at(0).length.likely == 0);
}

TEST_CASE("the plan's least time goes on beside the core's forecast") {
    Case const one(kitchen + dish("joint", "roast", joint), {{"roast", roast + "at-least = \"2 h\"\n"}});
    Running const running{0, 0, eight - 600, 3000.0, 2400.0, 4200.0};
    CHECK(one.made(eight, {running}).dishes.at(0).stages.at(0).length.likely == 7200 - 600);
}

TEST_CASE("a stage that was left before its end does not count as done") {
    Case const one(kitchen + dish("joint", "roast", joint), {{"roast", roast + kept}});
    Running running{0, 1, eight - 600};
    running.undone = {
        {"roast", "roast was left before its end: the core was at 40.0 degC, and 62.8 degC was asked", 62.8}};
    auto const made = one.made(eight, {running});
    auto const& joint_plan = made.dishes.at(0);
    CHECK(joint_plan.state == State::impossible);
    CHECK_FALSE(joint_plan.ready_at);
    CHECK_FALSE(joint_plan.chance);
    CHECK(joint_plan.stages.size() == 1);  // it stays where it is
    REQUIRE(made.conflicts.size() == 1);
    CHECK_THAT(made.conflicts[0].text,
               INGLE_CONTAINS("not done by the end of its plan: roast was left before"));
    CHECK_FALSE(made.conflicts[0].tried);
    CHECK_FALSE(made.fits);
    // All stages gone through: it is said there too.
    running.stage = 2;
    auto const done = one.made(eight, {running});
    REQUIRE(done.left_out.size() == 1);
    CHECK_THAT(done.left_out[0].why, INGLE_CONTAINS("but not done: roast was left"));
    running.undone.clear();
    CHECK(one.made(eight, {running}).left_out.at(0).why == "all its stages are done");
}

TEST_CASE(
    "a stage yet to come that heats its core as far makes good what was left; a brine cut short is said") {
    Case const one(kitchen + dish("joint", "roast", joint),
                   {{"roast",
                     "[[stage]]\nname = \"brine\"\ndoes = \"brine\"\nvessel = \"fridge\"\nuntil = { time = "
                     "\"2 days\" }\n" +
                         roast + kept}});
    Running running{0, 1, eight - 600};
    running.undone = {{"smoke", "smoke was left before its end", 62.7},
                      {"brine", "brine was left before its end", {}}};
    auto const joint_plan = one.made(eight, {running}).dishes.at(0);
    CHECK(joint_plan.state == State::fits);
    CHECK(joint_plan.notes.size() == 2);
}

TEST_CASE("a dish whose time has passed is told so, and one that was cooked for it is not asked for again") {
    Case const one(kitchen + dish("tart", "bake", at_five), {{"bake", bake}});
    auto const over = one.made(five + 3600);
    CHECK(over.dishes.at(0).state == State::late);
    CHECK(over.dishes[0].stages.size() == 1);
    CHECK_THAT(over.conflicts.at(0).text, INGLE_CONTAINS("was to be served 1 h ago and is not begun"));
    CHECK_FALSE(over.conflicts[0].remedies.empty());
    auto const passed = one.made(five - 1200);
    CHECK_THAT(passed.conflicts.at(0).text, INGLE_CONTAINS("it was to be begun 25 min ago at the latest"));
    Running eaten;
    eaten.cooked = true;
    auto const after = one.made(five + 3600, {eaten});
    CHECK(after.dishes.empty());
    CHECK_THAT(after.left_out.at(0).why, INGLE_CONTAINS("its cook is ended"));
}

TEST_CASE("a dish that cooks and is late is told of a hotter medium only where that was tried") {
    Case const one(kitchen + dish("joint", "roast", joint), {{"roast", roast}});
    Running running{0, 0, eight - 600};
    running.core_c = 30, running.medium_c = 150;  // its band ends at 320 degF, 160 degC
    auto const helped = [&](double left_s, double medium) {
        running.left_s = left_s, running.left_low_s = 0.8 * left_s, running.left_high_s = 1.2 * left_s;
        running.medium_c = medium;
        return what_helps({one.settings, TimeZone(), eight, {running}}, 0);
    };
    auto const hotter = [](std::vector<std::string> const& all) {
        return std::ranges::any_of(
            all, [](auto const& text) { return text.starts_with("keep oven near 160 degC"); });
    };
    double const left = static_cast<double>(five - eight);
    CHECK(hotter(helped(left + 600, 150)));
    CHECK_FALSE(hotter(helped(left + 4 * 3600, 150)));  // not by so much
    CHECK_FALSE(hotter(helped(left + 600, 160)));       // it is there already
    CHECK(helped(left + 600, 160).at(0).starts_with("serve joint at 17:10"));
}

TEST_CASE("the night is by the clock on the wall, also when the clocks are changed") {
    auto const zone = TimeZone::from_tz("EST5EDT,M3.2.0,M11.1.0").value();
    Interval const span{moment("2026-10-31T12:00:00-04:00"), moment("2026-11-02T12:00:00-05:00")};
    auto const found = nights(AwakeHours{390, 1380}, zone, span);
    REQUIRE(found.size() == 2);
    CHECK(found[0].from == moment("2026-10-31T23:00:00-04:00"));
    CHECK(found[0].to == moment("2026-11-01T06:30:00-05:00"));  // an hour longer
    CHECK(found[1].to - found[1].from == 7 * 3600 + 1800);
    auto const late = nights(AwakeHours{960, 120}, zone, span);
    REQUIRE_FALSE(late.empty());
    CHECK(late.back().to - late.back().from == 14 * 3600);
}

TEST_CASE("a hotter medium within the band is advised where that alone makes it in time") {
    auto const at = [](std::string const& band) {
        return "[[stage]]\nname = \"roast\"\nband = [" + band + "]\nuntil = { core = \"145 degF\" }\n";
    };
    auto const file = kitchen + dish("joint", "roast", joint);
    Case const wide(file, {{"roast", at("\"250 degF\", \"350 degF\"")}});
    Case const top(file, {{"roast", at("\"349 degF\", \"350 degF\"")}});
    auto const length = [](Case const& one) {
        auto const made = one.made();
        auto const& stage = made.dishes.at(0).stages.at(0);
        return stage.end - stage.begin;
    };
    auto const between = five - (length(wide) + length(top)) / 2;
    auto const made = wide.made(between);
    CHECK_FALSE(made.fits);
    REQUIRE(made.conflicts.size() == 1);
    auto const& remedies = made.conflicts[0].remedies;
    auto const hotter =
        std::ranges::find(remedies, "keep oven near 177 degC in stage roast of joint, which its band allows");
    CHECK(hotter != remedies.end());
    CHECK(top.made(between).fits);  // done as it says, it is in time
    auto const too_late = wide.made(five - length(top) + 1800);
    for (auto const& text : too_late.conflicts.at(0).remedies) CHECK(text.find("near") == std::string::npos);
}

TEST_CASE("a dish that cannot be done at the heat of its plan is told what would make it possible") {
    auto const file = kitchen + dish("joint", "roast", joint);
    Case const cool(file, {{"roast",
                            "[[stage]]\nname = \"roast\"\nband = [\"110 degF\", \"165 degF\"]\n"
                            "until = { core = \"145 degF\" }\n"}});
    auto const made = cool.made(eight - 20 * 3600);
    CHECK(made.dishes.at(0).state == State::impossible);
    REQUIRE(made.conflicts.size() == 1);
    REQUIRE(made.conflicts[0].remedies.size() == 1);
    CHECK_THAT(made.conflicts[0].remedies[0], INGLE_CONTAINS("keep oven near 74 degC in stage roast"));
}

TEST_CASE("the night in which the clocks go forward is an hour shorter") {
    auto const zone = TimeZone::named("America/New_York");
    REQUIRE(zone);
    auto const found = nights(AwakeHours{6 * 60 + 30, 23 * 60}, *zone,
                              {moment("2027-03-13T20:00:00-05:00"), moment("2027-03-14T12:00:00-04:00")});
    REQUIRE(found.size() == 1);
    CHECK(found[0].from == moment("2027-03-13T23:00:00-05:00"));
    CHECK(found[0].to == moment("2027-03-14T06:30:00-04:00"));
    CHECK(found[0].to - found[0].from == 6 * 3600 + 1800);
}

TEST_CASE("what cooks and is ready early may go on later, and says where its length is from once") {
    Case const one(
        kitchen + dish("joint", "roast", joint),
        {{"roast",
          "[[stage]]\nname = \"roast\"\nband = [\"300 degF\", \"320 degF\"]\nat-least = \"30 min\"\n"
          "until = { core = \"145 degF\", time = \"1 h\" }\n"
          "[[stage]]\nname = \"rest\"\ndoes = \"rest\"\nvessel = \"none\"\nuntil = { time = \"20 min\" "
          "}\n"}});
    Running running{0, 0, eight - 600};
    running.left_s = 3000, running.left_low_s = 2400, running.left_high_s = 4200;
    auto const made = one.made(eight, {running}).dishes.at(0);
    CHECK(made.stages.at(0).length.source == "the plan; the forecast of now");
    REQUIRE(*made.ready_at < five);
    CHECK(made.stages.at(1).latest_begin == five - 20 * 60);
    CHECK(made.stages.at(1).begin < made.stages.at(1).latest_begin);
}

TEST_CASE("hands that wait for one dish are free for another meanwhile") {
    std::string const carved =
        roast +
        "[[stage]]\nname = \"carve\"\ndoes = \"rest\"\nvessel = \"none\"\nuntil = { time = \"15 min\" }\n"
        "hands = \"15 min\"\n";
    std::string const later = "serve-at = \"2026-11-26T17:50:00Z\"\n";
    Case const there(kitchen + dish("joint", "carved", joint) +
                         "[[dish]]\nname = \"tart\"\nvessel = \"smoker\"\n" + "plan = \"bake\"\n" + later,
                     {{"carved", carved}, {"bake", bake}});
    auto const made = there.made();
    REQUIRE(made.dishes.size() == 2);
    auto const& tart = made.dishes[1];
    REQUIRE(tart.ready_late);
    // The joint may take an hour longer; the tart waits for the carving at most, not for the joint.
    CHECK(*made.dishes[0].ready_late > five + 1200);
    CHECK(*tart.ready_late < five + 50 * 60 + 1200);
    CHECK(*tart.chance > 0.75);
}
