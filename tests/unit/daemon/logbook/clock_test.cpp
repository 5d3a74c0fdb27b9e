// Field-cases of group C (clock) as far as they concern what is stored.
#include "support.hpp"
#include "tests/support/catch.hpp"

using namespace ingle;
using namespace ingle::logbook;
using namespace ingle::logbook::testing;

namespace {

std::int64_t wall(char const* utc) {  // by SQLite's own calendar
    Database db;
    db.open(":memory:", SQLITE_OPEN_READWRITE | SQLITE_OPEN_CREATE);
    Statement s(db, "SELECT CAST(strftime('%s', ?) AS INTEGER)");
    std::string const text = utc;
    s.with(text);
    return s.step() ? s.integer(0) * 1000 : -1;
}

void run(WriterOptions const& options, std::int64_t from, std::int64_t to, std::int64_t step,
         std::vector<std::pair<std::int64_t, ClockAnchor>> anchors = {}) {
    Writer writer(options, {});
    REQUIRE(writer.resume().recording);
    std::size_t next = 0;
    for (auto at = from; at <= to; at += step) {
        while (next < anchors.size() && anchors[next].first <= at) {
            writer.anchor(Instant(Span(anchors[next].first)), anchors[next].second);
            ++next;
        }
        writer.record(good(0, at, 85));
    }
    REQUIRE(writer.flush(Span(5000)));
}

std::vector<Point> all_points(std::string const& path) {
    return Reader(path).history({"stock", everything(), Span(0), false}).points;
}

}  // namespace

// field case C1
TEST_CASE("C1: a board that learns the time after nine minutes has the right time on every row") {
    Scratch dir;
    auto options = options_for(dir / "l.db");
    auto const wrong = wall("2026-06-15T19:45:53"), right = wall("2026-08-23T07:01:47");
    options.started = Instant(Span(30'000));
    options.clock = {wrong - 30'000, false};
    bool const sealed = GENERATE(false, true);
    if (sealed) options.seal_every = Span(60'000);
    auto const step_at = 30'000 + 9 * 60'000;
    run(options, 30'000, step_at + 600'000, 5000, {{step_at, {right - step_at, true}}});
    auto const points = all_points(options.path);
    REQUIRE(points.size() == 1 + (9 * 60 + 600) / 5);
    CHECK(points.front().at.wall == WallTime(Span(right - 9 * 60'000)));
    CHECK(points.back().at.wall == WallTime(Span(right + 600'000)));
    CHECK(points.back().at.certain);
    for (std::size_t i = 1; i < points.size(); ++i)
        CHECK(points[i].at.wall - points[i - 1].at.wall == Span(5000));
    CHECK(word(options.path, "SELECT min(utc) FROM reading") == "2026-08-23T06:52:47.000Z");
    CHECK(number(options.path, "SELECT count(*) FROM anchor") == 2);  // both are kept
}

// field case C2
TEST_CASE("C2: restarted with a clock that is before the last row") {
    Scratch dir;
    auto first = options_for(dir / "l.db", "boot-a");
    first.clock = {wall("2026-10-03T18:00:00"), true};
    run(first, 1000, 4'130'000, 1000);  // the last row at 19:08:50
    auto second = options_for(dir / "l.db", "boot-b");
    second.started = Instant(Span(20'000));
    second.clock = {wall("2026-10-03T19:02:00") - 20'000, false};
    run(second, 20'000, 80'000, 1000);
    {
        auto const points = all_points(second.path);
        REQUIRE(points.size() == 4130 + 61);
        for (std::size_t i = 1; i < points.size(); ++i) CHECK(points[i].at.wall > points[i - 1].at.wall);
        CHECK_FALSE(points.back().at.certain);
        auto const last = Reader(second.path).last("stock");
        REQUIRE(last);
        CHECK(last->at.at == Instant(Span(80'000)));
        CHECK(last->at.boot == points.back().at.boot);
    }
    // Half an hour later the time is known: power was off for ten minutes.
    auto third = second;
    third.started = Instant(Span(81'000));
    run(third, 81'000, 90'000, 1000, {{85'000, {wall("2026-10-03T19:18:50") - 20'000, true}}});
    auto const points = all_points(third.path);
    CHECK(points[4130].at.wall == WallTime(Span(wall("2026-10-03T19:18:50"))));
    CHECK(points[4130].at.wall - points[4129].at.wall == Span(600'000));
    CHECK(points.back().at.certain);
}

// field case C3
TEST_CASE("C3: the clock is set back an hour while running") {
    Scratch dir;
    auto options = options_for(dir / "l.db");
    run(options, 5000, 600'000, 5000, {{300'000, {midnight - 3'600'000, true}}});
    auto const points = all_points(options.path);
    REQUIRE(points.size() == 120);
    for (std::size_t i = 1; i < points.size(); ++i)
        CHECK(points[i].at.wall - points[i - 1].at.wall == Span(5000));
    CHECK(points.back().at.wall == WallTime(Span(midnight - 3'600'000 + 600'000)));
}

// field case C4
TEST_CASE("C4: two readings of a probe in one millisecond are both kept") {
    Scratch dir;
    auto options = options_for(dir / "l.db");
    options.seal_every = GENERATE(Span(0), Span(3'600'000));
    {
        Writer writer(options, {});
        writer.resume();
        for (int i = 0; i < 3; ++i) {
            writer.record(good(0, 5000 + i, 60));
            writer.record(good(0, 5000 + i, 61.5));
        }
        writer.flush(Span(5000));
    }
    auto const points = all_points(options.path);
    REQUIRE(points.size() == 6);
    for (std::size_t i = 0; i < 6; ++i) {
        CHECK(points[i].at.at == Instant(Span(5000 + static_cast<int>(i) / 2)));
        CHECK(points[i].mean == (i % 2 ? 61.5 : 60));
    }
    CHECK(number(options.path, "SELECT count(*) FROM reading WHERE boot_ms=5001") == 2);
}

// field cases C5, C6
TEST_CASE("C5, C6: the night in which the clocks go forward, and a zone that is changed afterwards") {
    Scratch dir;
    auto options = options_for(dir / "l.db");
    options.zone = "Europe/Berlin";
    options.clock = {wall("2026-03-28T21:00:00") - 60'000, true};  // 22:00 in Berlin
    options.started = Instant(Span(60'000));
    {
        Writer writer(options, {});
        writer.resume();
        writer.cook_begun({1, "goose-roll", "ground-poultry", "poach", Instant(Span(60'000))});
        for (std::int64_t at = 60'000; at <= 60'000 + 7 * 3'600'000; at += 60'000)
            writer.record(good(0, at, 3.5));
        writer.cook_ended(1, Instant(Span(60'000 + 7 * 3'600'000)));
        writer.flush(Span(5000));
    }
    auto other = options;
    other.zone = "Europe/Lisbon";
    Writer writer(other, {});
    writer.resume();
    writer.flush(Span(5000));
    Reader reader(options.path);
    auto const cook = reader.cook(1);
    REQUIRE(cook);
    CHECK(cook->zone == "Europe/Berlin");
    auto const window = reader.window_of(*cook);
    CHECK(window.to - window.from == Span(7 * 3'600'000 + 1));  // 06:00 is seven hours after 22:00
    auto const points = reader.history({"stock", window, Span(0), false}).points;
    REQUIRE(points.size() == 7 * 60 + 1);
    for (std::size_t i = 1; i < points.size(); ++i)
        CHECK(points[i].at.wall - points[i - 1].at.wall == Span(60'000));
    CHECK(points.back().at.wall ==
          WallTime(Span(wall("2026-03-29T04:00:00"))));  // 06:00 in Berlin's summer time
}

// field case C7
TEST_CASE("C7: a second that comes twice changes no duration") {
    Scratch dir;
    auto options = options_for(dir / "l.db");
    run(options, 59'400, 61'400, 500, {{60'400, {midnight - 1000, true}}});
    auto const points = all_points(options.path);
    REQUIRE(points.size() == 5);
    for (std::size_t i = 1; i < points.size(); ++i)
        CHECK(points[i].at.wall - points[i - 1].at.wall == Span(500));
}

TEST_CASE("a boot that never learnt the time stays between its neighbours") {
    Scratch dir;
    auto a = options_for(dir / "l.db", "boot-a");
    a.clock = {midnight, true};
    run(a, 1000, 60'000, 1000);
    auto b = options_for(dir / "l.db", "boot-b");
    b.clock = {midnight + 9'000'000, false};  // far ahead, and wrong
    run(b, 1000, 60'000, 1000);
    auto c = options_for(dir / "l.db", "boot-c");
    c.clock = {midnight + 600'000, true};
    run(c, 1000, 60'000, 1000);
    auto const points = all_points(a.path);
    REQUIRE(points.size() == 180);
    for (std::size_t i = 1; i < points.size(); ++i) CHECK(points[i].at.wall > points[i - 1].at.wall);
    CHECK(points[179].at.wall == WallTime(Span(midnight + 660'000)));
}

TEST_CASE("a note about yesterday is placed in the boot of yesterday") {
    Scratch dir;
    auto a = options_for(dir / "l.db", "boot-a");
    run(a, 1000, 60'000, 1000);
    auto b = options_for(dir / "l.db", "boot-b");
    b.clock = {midnight + 600'000, true};
    {
        Writer writer(b, {});
        writer.resume();
        Event note;
        note.at = Instant(Span(-570'000)), note.name = "note", note.text = "skimmed the stock";
        writer.record(note);
        writer.flush(Span(5000));
    }
    Reader reader(b.path);
    auto const notes = reader.events(everything(), "note");
    REQUIRE(notes.size() == 1);
    CHECK(notes[0].at.boot == 1);
    CHECK(notes[0].at.at == Instant(Span(30'000)));
    CHECK(notes[0].at.wall == WallTime(Span(midnight + 30'000)));
    CHECK(word(b.path, "SELECT text FROM note") == "skimmed the stock");
}

TEST_CASE("what must survive comes back in the time of the new boot") {
    Scratch dir;
    auto a = options_for(dir / "l.db", "boot-a");
    {
        Writer writer(a, {});
        writer.resume();
        Memory memory;
        memory.put("stage.began", Instant(Span(40'000)));
        memory.put("gone", std::string("x"));
        writer.remember(memory);
        memory = {};
        memory.put("stage.began", Instant(Span(45'000)));
        memory.put("dish", std::string("goose-roll"));
        writer.remember(memory);
        writer.record(good(0, 50'000, 85));
        OutboxRow row{"n-1", "phone", "raised", "{}", Instant(Span(49'000)), 2, "pending", "refused", {}};
        writer.put(row);
        OutboxRow sent{"n-2", "phone", "raised", "{}", Instant(Span(49'500)), 0, "pending", "", {}};
        writer.put(sent);
        sent.state = "sent", sent.attempts = 1, sent.done = Instant(Span(49'900));
        writer.put(sent);
        writer.record(raised(17, 50'500));
        REQUIRE(writer.flush(Span(5000)));
    }
    bool const same_boot = GENERATE(true, false);
    auto b = options_for(dir / "l.db", same_boot ? "boot-a" : "boot-b");
    if (!same_boot) b.clock = {midnight + 600'000, true};
    std::int64_t const shift = same_boot ? 0 : -600'000;
    Writer writer(b, {});
    auto const resumed = writer.resume();
    auto const memory = memory_in_this_boot(resumed, b.clock);
    CHECK(memory.instant("stage.began") == Instant(Span(45'000 + shift)));
    CHECK(resumed.memory.text("dish") == "goose-roll");
    CHECK_FALSE(resumed.memory.text("gone"));
    CHECK(resumed.last_alarm == 17);
    REQUIRE(resumed.pending.size() == 1);
    CHECK(resumed.pending[0].id == "n-1");
    CHECK(resumed.pending[0].at == Instant(Span(49'000 + shift)));
    CHECK(resumed.pending[0].attempts == 2);
    auto const off = off_since(resumed, b.clock);
    REQUIRE(off);
    if (!same_boot) CHECK(*off >= Instant(Span(50'500 + shift)));
}
