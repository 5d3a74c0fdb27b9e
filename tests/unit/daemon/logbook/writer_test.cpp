#include <cmath>

#include "support.hpp"
#include "tests/support/catch.hpp"

using namespace ingle;
using namespace ingle::logbook;
using namespace ingle::logbook::testing;

TEST_CASE("what is recorded can be read back, through the reader and through plain SQL") {
    Scratch dir;
    auto const path = dir / "logbook.db";
    auto options = options_for(path);
    bool const sealed = GENERATE(false, true);
    if (sealed) options.seal_every = Span(1);
    {
        Writer writer(options, {});
        auto const resumed = writer.resume();
        REQUIRE(resumed.text == "");
        REQUIRE(resumed.recording);
        for (int i = 0; i < 100; ++i) {
            writer.record(good(0, 2000 + 1000 * i, 85 + 0.25 * (i % 7)));
            writer.record(good(1, 2000 + 1000 * i, 40.1 + 0.1 * i));
        }
        writer.record(
            faulty(1, 102'000, FaultKind::open, "open: the thermocouple wire is broken or unplugged"));
        writer.record(
            faulty(1, 103'000, FaultKind::open, "open: the thermocouple wire is broken or unplugged"));
        writer.record(raised(7, 103'500));
        Event event;
        event.at = Instant(Span(104'000)), event.name = "door-opened",
        event.subject = {SubjectKind::vessel, 0};
        event.text = "opened \"wide\"\n", event.numbers = {{"depth_c", 12.5}};
        writer.record(event);
        CHECK(writer.flush(Span(5000)));
        CHECK_FALSE(writer.trouble());
    }
    Reader reader(path);
    REQUIRE(reader.failure() == "");
    auto const stock = reader.history({"stock", everything(), Span(0), false});
    REQUIRE(stock.points.size() == 100);
    for (int i = 0; i < 100; ++i) {
        auto const& p = stock.points[static_cast<std::size_t>(i)];
        CHECK(p.at.at == Instant(Span(2000 + 1000 * i)));
        CHECK(p.at.wall == WallTime(Span(midnight + 2000 + 1000 * i)));
        CHECK(p.mean == 85 + 0.25 * (i % 7));
    }
    auto const core = reader.history({"goose-core", everything(), Span(0), false});
    REQUIRE(core.faults.size() == 1);
    CHECK(core.faults[0].readings == 2);
    CHECK(core.faults[0].kind == "open");
    auto const alarms = reader.alarms(everything());
    REQUIRE(alarms.size() == 1);
    CHECK(alarms[0].name == "leaving-band");
    CHECK(alarms[0].subject == "stockpot");
    auto const events = reader.events(everything());
    REQUIRE(events.size() == 1);
    CHECK(events[0].text == "opened \"wide\"\n");
    CHECK(events[0].numbers == std::vector<std::pair<std::string, double>>{{"depth_c", 12.5}});
}

TEST_CASE("each attempt to deliver a message is kept, and when a channel delivered last") {
    Scratch dir;
    auto const path = dir / "logbook.db";
    {
        Writer writer(options_for(path), {});
        REQUIRE(writer.resume().recording);
        OutboxRow first{"n-1", "phone", "raised", "{}", Instant(Span(2000)), 0, "pending", "", {}};
        auto second = first;
        second.id = "n-2";
        writer.put(first);
        writer.record(DeliveryAttempt{"n-1", Instant(Span(2500)), "retry", "HTTP 500"});
        writer.record(DeliveryAttempt{"n-1", Instant(Span(4500)), "delivered", ""});
        first.attempts = 2, first.state = "sent", first.done = Instant(Span(4500));
        writer.put(first);
        writer.put(second);
        CHECK(writer.flush(Span(5000)));
    }
    Reader reader(path);
    // What is pending is told however old it is; the other one is not of this window.
    auto const late = reader.notices({WallTime(Span(midnight + 60'000)), WallTime(Span(midnight + 120'000))});
    REQUIRE(late.size() == 1);
    CHECK(late[0].id == "n-2");
    CHECK(late[0].tries.empty());
    auto const all = reader.notices(everything());
    REQUIRE(all.size() == 2);
    REQUIRE(all[0].tries.size() == 2);
    CHECK(all[0].tries[0].outcome == "retry");
    CHECK(all[0].tries[0].reason == "HTTP 500");
    CHECK(all[0].tries[1].at.wall == WallTime(Span(midnight + 4500)));
    auto const delivered = reader.last_delivered();
    REQUIRE(delivered.size() == 1);
    CHECK(delivered[0].first == "phone");
    CHECK(delivered[0].second.wall == WallTime(Span(midnight + 4500)));
    CHECK(reader.failure() == "");
}
