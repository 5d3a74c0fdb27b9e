// What is said again, what is not said any more, and whose turn it is: a table each.
#include "daemon/notices/send_queue.hpp"

#include <map>

#include "tests/support/catch.hpp"
#include "tests/unit/daemon/notices/queue_bench.hpp"

using namespace ingle;
using namespace ingle::test;

TEST_CASE(
    "what was refused is said again while somebody needs it, as another message and at a bounded pace") {
    Bench bench;
    bench.now.open = std::set<std::int64_t>{7};
    bench.add(of_alarm("n7", "raised", "high", 7));
    std::vector<std::string> tried;
    std::vector<std::chrono::seconds> pauses;
    auto last = bench.now.at;
    for (int s = 0; s < 3600; ++s) {
        if (auto const verdict = bench.next(); verdict.sends()) {
            tried.push_back(verdict.notice.id);
            pauses.push_back(std::chrono::duration_cast<std::chrono::seconds>(bench.now.at - last));
            last = bench.now.at;
            CHECK(verdict.notice.text.starts_with(s == 0 ? "stockpot 192" : "At 16:01, told late: stockpot"));
            auto const result = bench.answer(Attempt::give_up("400"));
            CHECK(result.attempt.outcome == Attempt::Outcome::give_up);
            CHECK(result.ids == std::vector<std::string>{verdict.notice.id});
            REQUIRE(result.again.size() == 1);
            CHECK(bench.queue.waiting(bench.now).front().last_error == "400");
        }
        bench.now.at += 1s;
    }
    CHECK(tried ==
          std::vector<std::string>{"n7", "n7~2", "n7~3", "n7~4", "n7~5", "n7~6", "n7~7", "n7~8", "n7~9"});
    CHECK(pauses == std::vector<std::chrono::seconds>{0s, 60s, 120s, 240s, 480s, 600s, 600s, 600s, 600s});

    // Its next change is told at once, in its place.
    auto const dropped = bench.add(of_alarm("n8", "reminder", "high", 7));
    REQUIRE(dropped.size() == 1);
    CHECK(bench.sent() == "n8");
    CHECK(bench.queue.size() == 0);
}

TEST_CASE("what was refused is not said again where nobody needs it") {
    struct Row {
        char const* what;
        char const *kind, *priority;
        bool open, attended, again;
    };
    for (auto const& row : {Row{"high", "raised", "high", true, false, true},
                            Row{"medium", "raised", "medium", true, false, true},
                            Row{"reminder", "reminder", "high", true, false, true},
                            Row{"low", "raised", "low", true, false, true},
                            Row{"its end", "cleared", "high", false, false, true},
                            Row{"over", "raised", "high", false, false, false},
                            Row{"acknowledged", "raised", "high", true, true, false}}) {
        INFO(row.what);
        Bench bench;
        bench.now.open.emplace();
        if (row.open) bench.now.open->insert(7);
        bench.add(of_alarm("n7", row.kind, row.priority, 7));
        REQUIRE(bench.next().sends());
        bench.answer(Attempt::give_up("400"));
        if (row.attended) bench.now.attended[7] = "acknowledged meanwhile by maria";
        bench.pass(row.priority == std::string("low") ? 16min : 6min);
        auto const dropped = bench.queue.drop_pointless(bench.now);
        CHECK(bench.next().sends() == row.again);
        if (row.again) continue;
        CHECK(bench.queue.size() == 0);
        for (auto const& one : dropped) {
            CHECK_FALSE(one.lost);
            CHECK(one.why == (row.attended ? "not sent any more: acknowledged meanwhile by maria"
                                           : "not sent any more: it was refused, and is over by now"));
        }
    }

    // A newer word that came while the older one was refused says it.
    Bench bench;
    bench.add(of_alarm("n7", "raised", "high", 7));
    REQUIRE(bench.next().sends());
    bench.add(of_alarm("n8", "cleared", "high", 7));
    CHECK(bench.answer(Attempt::give_up("400")).again.empty());
    auto const verdict = bench.next();
    CHECK(verdict.ids == std::vector<std::string>{"n8"});
    CHECK_THAT(verdict.notice.text, INGLE_CONTAINS("Not delivered before it was over (16:01): stockpot"));
}

TEST_CASE(
    "a lower notice gets its turn while a high one fails (what a high failure postpones, it does once)") {
    for (unsigned seed = 1; seed <= 200; ++seed) {
        INFO("seed " << seed);
        SendQueue queue({}, {}, seed);
        SendQueue::Now now{SendQueue::Moment(1h), noon, true};
        queue.add(of_alarm("high", "raised", "high", 1, "oven"), 0, now.at);
        queue.add(of_alarm("medium", "raised", "medium", 2, "fridge"), 0, now.at);
        queue.add(of_alarm("low", "raised", "low", 3, "bath"), 0, now.at);
        std::map<std::string, int> tried;
        for (int s = 0; s < 110; ++s, now.at += 1s)
            for (int most = 0; most < 4; ++most) {
                auto const verdict = queue.next(now);
                if (!verdict.sends()) break;
                for (auto const& id : verdict.ids) ++tried[id];
                queue.finished(Attempt::try_again("500"), now);
            }
        CHECK(tried["high"] >= 3);
        CHECK(tried["medium"] >= 2);
        CHECK(tried["low"] >= 1);
        // And no hail of attempts: each level keeps to its own pauses.
        CHECK(tried["high"] + tried["medium"] + tried["low"] <= 18);
    }
}

TEST_CASE("what waits and somebody attends to meanwhile is not sent, and why is said (L11)") {
    Bench bench(quiet_at_night());
    bench.now.minute = 23 * 60;
    bench.add(of_alarm("pot", "raised", "medium", 7));
    auto two = of_alarm("burst", "raised", "medium", 8, "fridge");
    two.link_alarms = {8, 9};
    two.single = false;
    bench.add(two);
    auto over = of_alarm("over", "cleared", "medium", 7, "bath");
    bench.add(over);
    CHECK(bench.queue.drop_pointless(bench.now).empty());
    bench.now.attended = {{7, "shelved meanwhile"}, {8, "acknowledged meanwhile by maria"}};
    auto const dropped = bench.queue.drop_pointless(bench.now);
    REQUIRE(dropped.size() == 1);  // of the burst one still waits for somebody; an end is told
    CHECK(dropped[0].id == "pot");
    CHECK(dropped[0].why == "not sent any more: shelved meanwhile");
    CHECK_FALSE(dropped[0].lost);
    bench.pass(8h);
    CHECK(bench.next().ids == std::vector<std::string>{"burst", "over"});
    // What is under way is left alone.
    bench.now.attended[9] = "acknowledged meanwhile";
    CHECK(bench.queue.drop_pointless(bench.now).empty());
    bench.answer(Attempt::try_again("500"));
    REQUIRE(bench.queue.drop_pointless(bench.now).size() == 1);
}
