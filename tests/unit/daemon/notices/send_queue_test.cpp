// The decisions of delivery as a table: what goes out, what waits until when, and the reason.
#include "daemon/notices/send_queue.hpp"

#include "tests/support/catch.hpp"
#include "tests/unit/daemon/notices/queue_bench.hpp"

using namespace ingle;
using namespace ingle::test;
using Reason = SendQueue::Reason;

TEST_CASE("what failed is tried again or given up: a table") {
    struct Row {
        char const* what;
        Attempt attempt;
        bool clock_proven;
        Attempt::Outcome outcome;
        bool failing;
        std::chrono::seconds least, most;  // until the next try
    };
    auto const bad_certificate = Attempt::try_again("certificate", {}, Attempt::Cause::certificate);
    using Outcome = Attempt::Outcome;
    auto const row = GENERATE_COPY(
        Row{"500", Attempt::try_again("500"), true, Outcome::try_again, false, 1s, 3s},
        Row{"Retry-After: 30", Attempt::try_again("429", 30s), true, Outcome::try_again, false, 30s, 30s},
        Row{"Retry-After: 3600", Attempt::try_again("429", 3600s), true, Outcome::try_again, true, 300s,
            300s},
        Row{"404", Attempt::give_up("404"), true, Outcome::give_up, true, 0s, 0s},
        Row{"bad certificate", bad_certificate, true, Outcome::give_up, true, 0s, 0s},
        Row{"bad certificate, no clock", bad_certificate, false, Outcome::try_again, false, 1s, 3s});
    INFO(row.what);
    Bench bench;
    bench.now.clock_proven = row.clock_proven;
    bench.add(about("a", "raised", "medium"));
    REQUIRE(bench.next().ids == std::vector<std::string>{"a"});
    auto const result = bench.answer(row.attempt);
    CHECK(result.attempt.outcome == row.outcome);
    CHECK(result.failing == row.failing);
    auto const after = bench.next();
    CHECK_FALSE(after.sends());
    if (row.outcome == Outcome::give_up) {
        // That message is done with; what it said is said again in another one, later.
        CHECK(result.again.size() == 1);
        CHECK(after.look_again - bench.now.at == 5min);
    } else {
        CHECK(after.reason == Reason::backing_off);
        CHECK(after.look_again - bench.now.at >= row.least);
        CHECK(after.look_again - bench.now.at <= row.most);
    }
}

TEST_CASE("the pauses double up to a bound by priority, differ between channels, and end at the deadline") {
    DeliveryTiming timing;
    timing.patience = 2h;
    SendQueue one(timing, {}, 1), other(timing, {}, 2);
    SendQueue::Now now{SendQueue::Moment(1h), noon, true};
    for (auto* queue : {&one, &other}) queue->add(about("a", "raised", "high"), 0, now.at);
    bool differ = false;
    auto pause = 0ms;
    int tries = 0;
    for (; now.at < SendQueue::Moment(4h); ++tries) {
        REQUIRE(one.next(now).sends());
        auto const result = one.finished(Attempt::try_again("500"), now);
        if (result.attempt.outcome == Attempt::Outcome::give_up) {
            CHECK_THAT(result.attempt.reason, INGLE_CONTAINS("given up after 2 h"));
            break;
        }
        auto const until = one.next(now).look_again;
        pause = std::max(pause, std::chrono::duration_cast<std::chrono::milliseconds>(until - now.at));
        if (other.next(now).sends()) {
            other.finished(Attempt::try_again("500"), now);
            differ = differ || other.next(now).look_again != until;
        }
        now.at = until;
    }
    CHECK(one.size() == 0);
    CHECK(pause == 1min);
    CHECK(differ);
    CHECK(tries > 100);  // a high one is never left alone for longer than a minute
}

TEST_CASE("a high notice passes what waits, and of one alarm the order stays") {
    Bench bench;
    for (int i = 0; i < 100; ++i) {
        auto low = about("low" + std::to_string(i), "raised", "low", "fridge");
        low.single = false;
        bench.add(low);
    }
    CHECK(bench.sent() == "low0");
    REQUIRE(bench.next().notice.id == "low1");
    bench.answer(Attempt::try_again("429", 3600s));
    bench.add(about("high", "raised", "high"));
    CHECK(bench.sent() == "high");

    Bench order;
    auto burst = about("burst", "raised", "medium");
    burst.single = false;  // of several: a later one does not say it all
    order.add(burst);
    order.add(about("over", "cleared", "high"));
    CHECK(order.sent() == "burst");
    CHECK(order.sent() == "over");
}

TEST_CASE("the newest state of an alarm is told, late ones as one message that says so") {
    Bench bench;
    bench.add(about("raised", "raised", "medium"));
    REQUIRE(bench.next().sends());
    bench.answer(Attempt::try_again("refused"));
    auto const dropped = bench.add(about("over", "cleared", "medium"));
    REQUIRE(dropped.size() == 1);
    CHECK(dropped[0].id == "raised");
    CHECK_FALSE(dropped[0].lost);
    bench.pass(40min);
    auto const late = bench.next();
    CHECK(late.ids == std::vector<std::string>{"over"});
    CHECK(late.notice.late);
    CHECK(late.notice.kind == "cleared");
    bench.answer(Attempt::try_again("refused"));

    // Two more while the network is away: one summary, the most urgent first, all under one identity.
    bench.add(about("fridge", "raised", "low", "fridge"));
    bench.add(about("smoker", "raised", "high", "smoker"));
    bench.pass(40min);
    auto const summary = bench.next();
    CHECK(summary.reason == Reason::merged_late);
    CHECK(summary.ids == std::vector<std::string>{"over", "fridge", "smoker"});
    CHECK(summary.notice.kind == "summary");
    CHECK(summary.notice.id.starts_with("smoker+"));
    CHECK(summary.notice.priority == "high");
    CHECK(summary.notice.subject == "smoker");
    CHECK(summary.notice.late);
    CHECK(summary.notice.text ==
          "At 16:01, told late: smoker 192 °F\n3 notices, late: they could not be delivered before. What "
          "they said, with the time of each:\n"
          "16:01  smoker 192 °F\n16:01  stockpot 192 °F\n16:01  fridge 192 °F");
    // It is the same message in each attempt, whatever happens meanwhile; what is new goes on its own.
    bench.answer(Attempt::try_again("reset"));
    bench.add(about("oven", "raised", "high", "oven"));
    bench.pass(10min);
    CHECK(bench.sent() == summary.notice.id);
    CHECK(bench.sent() == "oven");
    CHECK(bench.queue.size() == 0);
    // The next occurrence changes what a summary would say: another identity.
    bench.add(about("a", "raised", "low", "a")), bench.add(about("b", "raised", "low", "b"));
    bench.add(about("c", "raised", "low", "c"));
    bench.pass(10min);
    auto const before = bench.next().notice.id;
    REQUIRE(before.starts_with("c+"));
    bench.answer(Attempt::try_again("reset"));
    bench.add(about("b2", "cleared", "low", "b"));
    bench.pass(20min);
    CHECK(bench.next().notice.id.starts_with("b2+"));
}

TEST_CASE("after an outage everything is one message, which says what is over") {
    Bench bench;
    auto away = Attempt::try_again("no route");
    away.unreached = true;
    auto const add = [&](std::string const& id, char const* kind, char const* priority, char const* subject,
                         std::int64_t alarm) {
        auto notice = about(id, kind, priority, subject);
        notice.link_alarms = {alarm};
        bench.add(notice);
    };
    // One or the other comes each 5 min, and all the time it is tried.
    add("fridge", "cleared", "low", "fridge", 1);
    for (int minute = 0; minute < 40; ++minute) {
        if (minute == 5) add("timer", "raised", "medium", "hall", 2);
        if (minute == 10) add("smoker", "raised", "high", "smoker", 3);
        if (minute == 30) add("bath", "raised", "medium", "bath", 4);
        while (bench.next().sends()) bench.answer(away);
        bench.pass(1min);
    }
    // The timer was acknowledged at the page.
    bench.now.open = std::set<std::int64_t>{1, 3, 4};
    bench.pass(1min);
    auto const summary = bench.next();
    CHECK(summary.ids == std::vector<std::string>{"fridge", "timer", "smoker", "bath"});
    CHECK(summary.reason == Reason::merged_late);
    // Its links and buttons are of what is open, and of nothing else.
    CHECK(summary.notice.link_alarms == std::vector<std::int64_t>{3, 4});
    CHECK(summary.notice.alarms == summary.notice.link_alarms);
    CHECK_THAT(summary.notice.text,
               Catch::Matchers::StartsWith("At 16:01, told late: smoker 192 °F\n4 notices, late") &&
                   INGLE_CONTAINS(
                       "\nStill open:\n16:01  smoker 192 °F\n16:01  bath 192 °F"
                       "\nOver by now, or covered by what is open:\n16:01  hall 192 °F\n16:01  fridge 192"));
    bench.answer(Attempt::delivered());
    CHECK(bench.queue.size() == 0);
}

TEST_CASE("what an earlier run left waits for the open alarms, and what is new does not") {
    Bench bench;
    bench.now.open_awaited = true;
    for (auto const* id : {"a", "b"}) {
        auto notice = of_alarm(id, "raised", id[0] == 'a' ? "high" : "medium", id[0] - 'a' + 1, id);
        notice.late = true;
        bench.add(notice);
    }
    auto const verdict = bench.next();
    CHECK_FALSE(verdict.sends());
    CHECK(verdict.look_again == SendQueue::Moment::max());
    bench.add(of_alarm("new", "raised", "low", 3, "fridge"));
    CHECK(bench.sent() == "new");
    bench.now.open = std::set<std::int64_t>{1, 3};
    bench.now.open_awaited = false;
    auto const summary = bench.next();
    CHECK(summary.ids == std::vector<std::string>{"a", "b"});
    CHECK_THAT(summary.notice.text, INGLE_CONTAINS("\nStill open:\n16:01  a 192 °F\nOver by now"));
}

TEST_CASE("a summary has the same identity again after a kill, whatever was known of the alarms meanwhile") {
    std::string first;
    for (bool const known : {true, false}) {
        Bench bench;
        if (known) bench.now.open = std::set<std::int64_t>{1};
        for (auto const* id : {"a", "b"}) {
            auto notice = of_alarm(id, "raised", "medium", id[0] - 'a' + 1, id);
            notice.late = !known;  // as what an earlier run left is
            bench.add(notice);
        }
        if (known) bench.pass(10min);
        auto const summary = bench.next();
        REQUIRE(summary.ids == std::vector<std::string>{"a", "b"});
        if (known) first = summary.notice.id;
        CHECK(summary.notice.id == first);
        // Where it is not known yet what is open, a link still says so when it is used; a button would stay.
        CHECK(summary.notice.link_alarms.size() == (known ? 1 : 2));
        CHECK(summary.notice.alarms.size() == (known ? 1 : 0));
    }
}

TEST_CASE("quiet hours hold back what is not high, and say until when; unknown time is no night") {
    Bench bench(quiet_at_night());
    struct Row {
        std::optional<int> minute;
        char const* priority;
        bool sent;
    };
    for (auto const& row :
         {Row{22 * 60 - 1, "low", true}, Row{22 * 60, "low", false}, Row{23 * 60, "medium", false},
          Row{0, "medium", false}, Row{6 * 60 + 29, "low", false}, Row{6 * 60 + 30, "low", true},
          Row{3 * 60, "high", true}, Row{std::nullopt, "low", true}}) {
        Bench one(quiet_at_night());
        one.now.minute = row.minute;
        one.add(about("a", "raised", row.priority));
        INFO(row.minute.value_or(-1) << " " << row.priority);
        CHECK(one.next().sends() == row.sent);
    }
    // The cook who set a timer for that time wants to hear it then.
    Bench cook(quiet_at_night());
    cook.now.minute = 23 * 60;
    auto timer = about("timer", "raised", "medium", "hall");
    timer.asked_for = true;
    cook.add(*notice_from_json(stored_json(timer)));
    CHECK(cook.sent() == "timer");
    CHECK(to_json(timer).find("asked") == std::string::npos);

    bench.now.minute = 23 * 60;
    bench.add(about("pot", "raised", "medium"));
    auto const verdict = bench.next();
    CHECK(verdict.reason == Reason::quiet_hours);
    CHECK(verdict.look_again - bench.now.at == 7h + 30min);
    CHECK(bench.queue.waiting(bench.now)[0].held == "held back: quiet until 06:30");
    // It becomes worse at night: that is told; the held one says nothing more.
    bench.pass(60min);
    bench.add(about("worse", "raised", "high"));
    CHECK(bench.sent() == "worse");
    bench.add(about("fridge", "raised", "low", "fridge"));
    bench.add(about("smoker", "raised", "medium", "smoker"));
    CHECK(bench.sent().empty());
    bench.pass(390min);
    auto const morning = bench.next();
    CHECK(morning.ids.size() == 2);
    CHECK(morning.reason == Reason::merged_held);
    CHECK_THAT(morning.notice.text, Catch::Matchers::StartsWith("At 16:01, held back: ") &&
                                        INGLE_CONTAINS("2 notices, held back") &&
                                        INGLE_CONTAINS("fridge 192"));
}

TEST_CASE("a rate limit holds back, lets high ones through and says afterwards what it held") {
    DeliveryPolicy policy;
    policy.most_per_hour = 2;
    Bench bench(policy);
    for (auto const* name : {"a", "b", "c", "d"}) bench.add(about(name, "raised", "medium", name));
    CHECK(bench.sent() == "a");
    bench.pass(1min);
    CHECK(bench.sent() == "b");
    auto const verdict = bench.next();
    CHECK(verdict.reason == Reason::rate_limit);
    CHECK(verdict.look_again - bench.now.at == 59min);
    CHECK(bench.queue.waiting(bench.now)[0].held == "held back: at most 2 messages an hour");
    bench.add(about("fire", "raised", "high", "fire"));
    CHECK(bench.sent() == "fire");
    CHECK(bench.sent().empty());
    bench.pass(60min);  // a and b are an hour ago, the high one counts
    CHECK(bench.sent().starts_with("d+"));
}

TEST_CASE("what cannot be kept is said to be lost; what somebody else delivered is not sent") {
    DeliveryTiming timing;
    timing.most_waiting = 2;
    Bench bench({}, timing);
    bench.add(about("a", "raised", "low", "a")), bench.add(about("b", "raised", "low", "b"));
    auto const dropped = bench.add(about("c", "raised", "low", "c"));
    REQUIRE(dropped.size() == 1);
    CHECK(dropped[0].id == "a");
    CHECK(dropped[0].lost);
    REQUIRE(bench.next().notice.id == "b");
    bench.queue.forget("b");
    REQUIRE(bench.next().notice.id == "c");
    bench.queue.broken_off();
    CHECK(bench.queue.waiting(bench.now)[0].attempts == 0);
    CHECK(bench.sent() == "c");
}

TEST_CASE("the end of what was never told tells of its begin") {
    Bench bench;
    bench.add(about("raised", "raised", "medium"));
    auto over = about("over", "cleared", "medium");
    auto const alone = over.text;
    auto other = about("other", "cleared", "medium", "fridge");
    bench.queue.add_what_never_came(other);
    CHECK(other.text == about("other", "cleared", "medium", "fridge").text);
    bench.queue.add_what_never_came(over);
    CHECK(over.text == alone + "\nNot delivered before it was over (16:01): stockpot 192 °F");
    auto const dropped = bench.add(over);
    REQUIRE(dropped.size() == 1);
    CHECK_THAT(std::string(dropped[0].why), INGLE_CONTAINS("the notice of its end tells of both"));

    // What is under way may have come.
    bench.add(about("again", "raised", "medium", "smoker"));
    CHECK(bench.sent() == "over");
    REQUIRE(bench.next().notice.id == "again");
    auto meanwhile = about("end", "cleared", "medium", "smoker");
    bench.queue.add_what_never_came(meanwhile);
    CHECK(meanwhile.text == "smoker 192 °F");
}

TEST_CASE("what an earlier run sent within the hour counts for the limit") {
    DeliveryPolicy policy;
    policy.most_per_hour = 2;
    Bench bench(policy);
    bench.queue.sent_before(bench.now.at - 50min);
    bench.queue.sent_before(bench.now.at - 30min);
    bench.queue.sent_before(bench.now.at - 30min);  // said twice
    bench.add(about("a", "raised", "medium"));
    auto const verdict = bench.next();
    CHECK(verdict.reason == Reason::rate_limit);
    CHECK(verdict.look_again - bench.now.at == 10min);
    bench.pass(10min);
    CHECK(bench.sent() == "a");
}

TEST_CASE("one that its receiver never takes holds up none of its like") {
    Bench bench;
    bench.add(about("first", "raised", "high", "oven"));
    bench.add(about("second", "raised", "high", "stockpot"));
    CHECK(bench.next().ids == std::vector<std::string>{"first"});
    bench.answer(Attempt::try_again("no answer"));
    bench.pass(1min);
    CHECK(bench.sent() == "second");
    CHECK(bench.sent() == "first");
}

TEST_CASE("what is told on another day has its date, and what was held says so") {
    Bench bench({{{22 * 60, 6 * 60 + 30}}});
    bench.now.minute = 23 * 60;
    bench.now.date = "2026-11-26";
    bench.add(about("first", "raised", "medium", "oven"));
    CHECK(bench.next().ids.empty());
    bench.pass(8h);
    bench.now.minute = 7 * 60;
    bench.now.date = "2026-11-27";
    CHECK(bench.next().notice.text == "At 16:01 on 2026-11-26, held back: oven 192 °F");
}

TEST_CASE("what is told late begins with its time, also where only the first words are shown") {
    for (bool const dated : {true, false}) {
        Bench bench;
        auto notice = about("first", "raised", "high", "oven");
        if (!dated) notice.at.reset();
        bench.add(notice);
        CHECK(bench.next().notice.text == "oven 192 °F");
        bench.answer(Attempt::try_again("no answer"));
        bench.pass(3min);
        auto const again = bench.next();
        CHECK(again.notice.text == (dated ? "At 16:01, told late: oven 192 °F" : "Told late: oven 192 °F"));
        CHECK(again.notice.late);
    }
}
