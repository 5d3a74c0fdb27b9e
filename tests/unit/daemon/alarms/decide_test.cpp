#include "daemon/alarms/decide.hpp"

#include "tests/support/catch.hpp"
#include "tests/unit/daemon/alarms/desk_bench.hpp"

using namespace ingle;
using namespace ingle::test;
using std::chrono::minutes;

namespace {

// A medium alarm of the pot that is active and not acknowledged since 0, on a channel that carries
// everything.
struct Row {
    char const* what;
    Reason reason;
    void (*set)(AlarmRecord&, Spoken&, ChannelSettings&, Question&);
};

void knows(Spoken& spoken, double when) {
    spoken.raised = true;
    spoken.at = at(when);
    spoken.priority = Priority::medium;
}

Row const rows[] = {
    {"nobody knows yet", Reason::first, [](auto&, auto&, auto&, auto&) {}},
    {"another one was just told here", Reason::new_in_group,
     [](auto&, auto&, auto&, auto& q) { q.raised_at = at(50); }},
    {"another one was told long ago", Reason::first,
     [](auto&, auto&, auto&, auto& q) { q.raised_at = at(-1); }},
    {"known", Reason::none, [](auto&, auto& s, auto&, auto&) { knows(s, 0); }},
    {"known as less bad", Reason::worse,
     [](auto& r, auto& s, auto&, auto&) {
         knows(s, 0);
         r.alarm.priority = Priority::high;
     }},
    {"known, 30 min without a sign", Reason::repeat_due,
     [](auto&, auto& s, auto&, auto& q) {
         knows(s, 0);
         q.now = at(1800);
     }},
    {"known, 29 min without a sign", Reason::none,
     [](auto&, auto& s, auto&, auto& q) {
         knows(s, 0);
         q.now = at(1799);
     }},
    {"reminded often: rarely", Reason::none,
     [](auto&, auto& s, auto&, auto& q) {
         knows(s, 0);
         s.repeats = 100;
         q.now = at(4 * 3600 - 1);
     }},
    {"and never for the last time", Reason::repeat_due,
     [](auto&, auto& s, auto&, auto& q) {
         knows(s, 0);
         s.repeats = 100;
         q.now = at(4 * 3600);
     }},
    {"its shelving ended", Reason::repeat_due,
     [](auto&, auto& s, auto&, auto&) {
         knows(s, 0);
         s.again = true;
     }},
    {"30 min without a sign, and it cannot be judged any more", Reason::unjudged,
     [](auto& r, auto& s, auto&, auto& q) {
         knows(s, 0);
         r.truth = Truth::unknown;
         q.now = at(1800);
     }},
    {"that was said already", Reason::none,
     [](auto& r, auto& s, auto&, auto& q) {
         knows(s, 101);
         r.truth = Truth::unknown;
         q.now = at(100000);
     }},
    {"another alarm here says why", Reason::none,
     [](auto& r, auto& s, auto&, auto& q) {
         knows(s, 0);
         r.truth = Truth::unknown;
         q.now = at(1800);
         q.explained = true;
     }},
    {"its shelving ended, and it cannot be judged", Reason::unjudged,
     [](auto& r, auto& s, auto&, auto&) {
         knows(s, 0);
         s.again = true;
         r.truth = Truth::unknown;
     }},
    {"nothing was judged since a restart", Reason::none,
     [](auto& r, auto& s, auto&, auto& q) {
         knows(s, 0);
         r.truth = Truth::unknown;
         r.judged_at.reset();
         q.now = at(1800);
     }},
    {"food that is to be discarded stays so", Reason::repeat_due,
     [](auto& r, auto& s, auto&, auto& q) {
         knows(s, 0);
         r.truth = Truth::unknown;
         r.alarm.action = Action::discard;
         q.now = at(1800);
     }},
    {"acknowledged and known", Reason::none,
     [](auto& r, auto& s, auto&, auto& q) {
         knows(s, 0);
         r.alarm.state = AlarmState::acknowledged;
         q.now = at(100000);
     }},
    {"acknowledged before this channel heard", Reason::none,
     [](auto& r, auto&, auto&, auto&) { r.alarm.state = AlarmState::acknowledged; }},
    {"a second person, too early", Reason::none,
     [](auto&, auto&, auto& c, auto&) { c.after = Duration{101}; }},
    {"a second person, nobody reacted", Reason::escalated,
     [](auto&, auto&, auto& c, auto&) { c.after = Duration{100}; }},
    {"a second person, and the first cannot be told", Reason::first,
     [](auto&, auto&, auto& c, auto& q) {
         c.after = Duration{101};
         q.earlier_ones_fail = true;
     }},
    {"the same, of what has gone back", Reason::none,
     [](auto& r, auto&, auto& c, auto& q) {
         c.after = Duration{101};
         q.earlier_ones_fail = true;
         r.truth = Truth::absent;
     }},
    {"the same, acknowledged by somebody who saw it", Reason::none,
     [](auto& r, auto&, auto& c, auto& q) {
         c.after = Duration{101};
         q.earlier_ones_fail = true;
         r.alarm.state = AlarmState::acknowledged;
     }},
    {"good news is not escalated", Reason::none,
     [](auto& r, auto&, auto& c, auto&) {
         c.after = Duration{10};
         r.alarm.type = &done;
     }},
    {"good news is told", Reason::first, [](auto& r, auto&, auto&, auto&) { r.alarm.type = &done; }},
    {"good news is not repeated", Reason::none,
     [](auto& r, auto& s, auto&, auto& q) {
         r.alarm.type = &done;
         knows(s, 0);
         q.now = at(100000);
     }},
    {"not important enough for this channel", Reason::none,
     [](auto&, auto&, auto& c, auto&) { c.least = Priority::high; }},
    {"shelved", Reason::none, [](auto& r, auto&, auto&, auto&) { r.alarm.state = AlarmState::shelved; }},
    {"suppressed", Reason::none,
     [](auto& r, auto&, auto&, auto&) { r.alarm.state = AlarmState::suppressed_by_design; }},
    {"out of service", Reason::none,
     [](auto& r, auto&, auto&, auto&) { r.alarm.state = AlarmState::out_of_service; }},
    {"over, told before", Reason::cleared,
     [](auto& r, auto& s, auto&, auto&) {
         knows(s, 0);
         r.alarm.active = false;
         r.alarm.state = AlarmState::normal;
         r.alarm.cleared = at(70);
     }},
    {"over, but only just", Reason::none,
     [](auto& r, auto& s, auto&, auto&) {
         knows(s, 0);
         r.alarm.active = false;
         r.alarm.state = AlarmState::normal;
         r.alarm.cleared = at(71);
     }},
    {"over, never told", Reason::none,
     [](auto& r, auto&, auto&, auto&) {
         r.alarm.active = false;
         r.alarm.state = AlarmState::normal;
         r.alarm.cleared = at(0);
     }},
    {"never raised", Reason::none, [](auto& r, auto&, auto&, auto&) { r.alarm.id = 0; }},
};

}  // namespace

TEST_CASE("what a channel is told, and why") {
    for (Row const& row : rows) {
        CAPTURE(row.what);
        AlarmRecord record;
        record.alarm.id = 1;
        record.alarm.type = &above;
        record.alarm.subject = vessel(0);
        record.alarm.active = true;
        record.alarm.state = AlarmState::unacknowledged;
        record.heard_since = at(0);
        record.truth = Truth::present;
        record.judged_at = at(100);
        Spoken spoken;
        ChannelSettings channel;
        Question question{record, spoken, channel, {}, at(100)};
        question.now = at(100);
        row.set(record, spoken, channel, question);
        CHECK(to_word(decide(question)) == to_word(row.reason));
    }
}

TEST_CASE("what nobody acknowledges is repeated without end, ever later; of low priority never") {
    CHECK(repeat_after(Priority::high, 0) == minutes(10));
    CHECK(repeat_after(Priority::high, 5) == minutes(10));
    CHECK(repeat_after(Priority::high, 6) == minutes(60));
    CHECK(repeat_after(Priority::high, 1000) == minutes(60));
    CHECK(repeat_after(Priority::medium, 1) == minutes(60));
    CHECK(repeat_after(Priority::medium, 1000) == minutes(240));
    CHECK(!repeat_after(Priority::low, 0));
}
