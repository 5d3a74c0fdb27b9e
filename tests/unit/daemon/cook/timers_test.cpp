// Kitchen timers: told when they run out, over when acknowledged, kept over a restart.
#include "daemon/cook/timers.hpp"

#include "tests/support/catch.hpp"
#include "tests/support/kitchen_run.hpp"

using namespace ingle;
using namespace ingle::test;
using std::chrono::minutes;

namespace {

Settings hall() {
    Settings settings;
    settings.name = "village hall";
    settings.channels.push_back({.name = "phone", .kind = "webhook"});
    return settings;
}

std::vector<Tell> tells(Run const& run, std::string_view kind) {
    std::vector<Tell> found;
    for (auto const& effect : run.effects())
        if (auto const* tell = std::get_if<Tell>(&effect); tell && tell->kind == kind) found.push_back(*tell);
    return found;
}

}  // namespace

TEST_CASE("a timer that runs out is told, once, and acknowledged like any other alarm") {
    Run run(hall());
    run.tell(StartTimer{minutes(20), "turn the tart"});
    run.tell(StartTimer{minutes(5), "stir"});
    auto timers = run.kitchen().view().timers;
    REQUIRE(timers.size() == 2);
    CHECK(timers[0].number == 2);  // the next one first
    CHECK(timers[1].text == "turn the tart");
    run.until(4.9);
    CHECK(run.alarms("timer-over").empty());
    run.until(6);
    REQUIRE(tells(run, "raised").size() == 1);
    CHECK(tells(run, "raised")[0].text == "5 min are over: stir.");
    CHECK(run.alarms("timer-over").size() == 1);
    CHECK(run.alarms("timer-over")[0].priority == Priority::medium);
    SECTION("acknowledged, it goes, and the other one rings anew") {
        run.tell(Acknowledge{{}, "maria"});
        REQUIRE(run.kitchen().view().timers.size() == 1);
        CHECK(run.kitchen().view().alarms.empty());
        run.until(21);
        REQUIRE(tells(run, "raised").size() == 2);
        CHECK(tells(run, "raised")[1].text == "20 min are over: turn the tart.");
        CHECK(tells(run, "cleared").empty());
    }
    SECTION("not acknowledged: reminded of, and the second is told too") {
        run.until(21);
        REQUIRE(tells(run, "raised").size() == 2);
        CHECK_THAT(tells(run, "raised")[1].text, INGLE_CONTAINS("turn the tart"));
        run.until(60);
        CHECK(tells(run, "reminder").size() >= 1);
    }
    SECTION("stopped, it goes without a word") {
        run.tell(StopTimer{2});
        run.until(7);
        CHECK(run.kitchen().view().alarms.empty());
        CHECK(tells(run, "cleared").empty());
        run.tell(StopTimer{7});
        REQUIRE(run.events("refused").size() == 1);
        CHECK_THAT(run.events("refused")[0].second.text, INGLE_CONTAINS("no timer 7"));
    }
}

TEST_CASE("a timer survives a restart, and one that ran out meanwhile rings") {
    Run run(hall());
    run.tell(StartTimer{minutes(20), "turn the tart"});
    run.tell(StartTimer{minutes(40), ""});
    run.until(10);
    run.restart(minutes(15));
    CHECK(run.kitchen().view().timers.size() == 2);
    run.until(26);
    REQUIRE(tells(run, "raised").size() == 1);
    // It rang while nobody could hear it, and says so.
    CHECK_THAT(tells(run, "raised")[0].text, INGLE_CONTAINS("20 min are over: turn the tart (5 min"));
    run.until(41);
    CHECK_THAT(tells(run, "raised").back().text,
               INGLE_CONTAINS("timer 2 of 40 min is over; 20 min are over"));  // what rings just now first
    run.restart(minutes(1));
    run.until(45);
    CHECK(tells(run, "raised").size() == 2);  // not told a third time
    run.tell(StartTimer{minutes(1), "x"});
    CHECK(run.kitchen().view().timers.back().number == 3);  // numbers go on
}

TEST_CASE("off for an unknown time, what ran counts as over and says why") {
    Timers before;
    std::int64_t number = 0;
    CHECK(before.start(Instant{}, minutes(20), "turn the tart", number).empty());
    Memory memory;
    before.remember(memory);
    Timers after;
    after.recall(memory, false);
    auto const finding = after.step(Instant{} + minutes(1));
    CHECK(finding.truth == Truth::present);
    CHECK(finding.text ==
          "perhaps 20 min are over: turn the tart. The program was off for an unknown time: it may be too "
          "early, or long over.");
    SECTION("not even after another restart") {
        Memory later;
        after.remember(later);
        Timers again;
        again.recall(later, true);
        CHECK_THAT(again.step(Instant{} + minutes(30)).text, INGLE_CONTAINS("perhaps 20 min are over"));
    }
}

TEST_CASE("once it is known for how long the program was off, what rang too early is taken back") {
    Timers before;
    std::int64_t number = 0;
    CHECK(before.start(Instant{}, minutes(3), "baste", number).empty());
    CHECK(before.start(Instant{}, minutes(60), "turn the tart", number).empty());
    Memory memory;
    before.remember(memory);
    Timers guessed, known;
    guessed.recall(memory, false);
    known.recall(memory, true);
    auto const rang = guessed.step(Instant{} + minutes(1)).grade;
    SECTION("one is over, and the other is told to run on; then it rings as news") {
        CHECK(known.correct(guessed, Instant{} + minutes(10)) ==
              "Not over yet: turn the tart, 50 min left of 1 h.");
        auto const now = known.step(Instant{} + minutes(10));
        CHECK(now.text ==
              "3 min are over: baste (7 min ago). Not over yet: turn the tart, 50 min left of "
              "1 h.");
        CHECK(now.grade > rang);
        SECTION("what is left is of that moment, and not said again with the next one that rings") {
            CHECK(known.step(Instant{} + minutes(60)).text ==
                  "1 h are over: turn the tart; 3 min are over: baste (57 min ago).");
            return;
        }
        known.acknowledged();
        auto const later = known.step(Instant{} + minutes(60));
        CHECK(later.text == "1 h are over: turn the tart.");
        CHECK(later.grade > now.grade);
    }
    SECTION("neither is over, and each still rings as news when it is, also for who acknowledged the guess") {
        guessed.acknowledged();
        known.correct(guessed, Instant{} + minutes(1));
        CHECK(known.step(Instant{} + minutes(1)).truth == Truth::absent);
        CHECK(known.step(Instant{} + minutes(3)).grade > rang);
    }
}

TEST_CASE("what is no timer is refused with a sentence") {
    Timers timers;
    std::int64_t number = 0;
    CHECK_FALSE(timers.start(Instant{}, Span(0), "", number).empty());
    CHECK_FALSE(timers.start(Instant{}, std::chrono::hours(31 * 24), "", number).empty());
    CHECK_FALSE(timers.start(Instant{}, minutes(1), std::string(201, 'x'), number).empty());
    for (int i = 0; i < 50; ++i) CHECK(timers.start(Instant{}, minutes(1), "", number).empty());
    CHECK_FALSE(timers.start(Instant{}, minutes(1), "", number).empty());
    CHECK(timers.stop(1).empty());
    CHECK_FALSE(timers.stop(1).empty());
}
