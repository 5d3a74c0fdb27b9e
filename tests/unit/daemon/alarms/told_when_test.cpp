// When a second channel is told, how long what is over is told to have lasted, and what its end names.
#include <algorithm>
#include <cmath>

#include "tests/support/catch.hpp"
#include "tests/unit/daemon/alarms/desk_bench.hpp"

using namespace ingle;
using namespace ingle::test;

TEST_CASE("who is told after another one does not wait where that one fails, and is told of both") {
    auto settings = village_hall();
    settings.channels.push_back({.name = "chef", .kind = "webhook", .after = Duration{90}});
    struct Row {
        char const* what;
        std::vector<std::string> failing;
        double told_at;
    };
    for (auto const& row : {Row{"all deliver", {}, 190}, Row{"its own fails", {"chef"}, 190},
                            Row{"the first fails", {"phone"}, 100}}) {
        INFO(row.what);
        Bench b(settings);
        b.desk.channels_fail(at(0), row.failing);
        b.run(100, {judged(above, pot, false)});
        b.run(200, {judged(above, pot, true)});
        std::vector<Tell> chef;
        for (auto const& tell : b.tells())
            if (tell.channel == 1) chef.push_back(tell);
        REQUIRE(chef.size() == 1);
        CHECK(std::abs(seconds(chef[0].at - at(row.told_at))) <= 4);
    }
    // A failure of this moment may be over in the next: only what lasts is not waited for.
    Bench b(settings);
    b.run(100, {judged(boil_over, pot, true)});
    b.desk.channels_fail(at(100), {"phone"});
    b.run(105, {judged(boil_over, pot, true), judged(boil_over, smoker, true)});
    b.desk.channels_fail(at(105), {});
    b.run(150, {judged(boil_over, pot, true), judged(boil_over, smoker, true)});
    CHECK(std::ranges::count(b.tells(), 1, &Tell::channel) == 1);  // of the pot, after its 90 s
    CHECK(b.tells().back().alarms.size() == 1);
}

TEST_CASE("what lasted is told from the first time that it was so, and not from the end of the on-delay") {
    Bench b;
    b.run(10, one(open_probe, probe(0), false));
    b.run(100, one(open_probe, probe(0), true));
    REQUIRE(b.changes(Transition::raised).size() == 1);
    CHECK(b.changes(Transition::raised)[0].at == at(30));
    CHECK(b.changes(Transition::raised)[0].alarm.since == at(10));
    // A watch that counts its delay itself says since when.
    auto counted = judged(above, pot, true, 80);
    counted.finding.since = at(60);
    b.run(130, {counted});
    CHECK(b.changes(Transition::raised)[1].alarm.since == at(60));
    b.run(400, {judged(above, pot, false)});
    auto const over = b.tells("cleared").back().text;
    CHECK_THAT(over, INGLE_CONTAINS("stockpot is no longer above its band. It lasted 1 min 10 s; furthest"));
}

TEST_CASE("the end of a trouble of the kitchen names what it was about") {
    Bench b;
    auto trouble = judged(undelivered, {}, true);
    trouble.finding.text = "the channel mail does not deliver: no answer";
    b.run(100, {trouble});
    b.run(300, one(undelivered, {}, false));
    REQUIRE(b.tells("cleared").size() == 1);
    CHECK(b.tells("cleared")[0].text ==
          "village hall has no channel any more that fails. It lasted 1 min 40 s. What was told: the channel "
          "mail "
          "does not deliver: no answer");
}
