// How long a board was off is taken up when the clock tells it, as if it had been known from the start: one
// outage by itself, several with no known time between them as one sum.
#include "daemon/run/past.hpp"
#include "tests/unit/daemon/run/past_lives.hpp"

using namespace ingle;
using namespace ingle::past_lives;
using logbook::testing::Scratch;

TEST_CASE("an outage of unknown length is judged again when something vouches for the clock") {
    Scratch dir;
    auto const path = dir / "l.db";
    first_life(path);
    // The board was off for 42 min; its saved time is 30 min behind, or 20 min ahead.
    auto const wrong_min = GENERATE(-30, 20);
    auto const truth = midnight + 101'000 + 42 * 60'000 - 5'000;  // of boot b's zero: it began at 5 s
    ClockAnchor const saved{truth + wrong_min * 60'000, true, false};
    Life life(path, "boot-b", Instant(Span(5'000)), saved);
    CHECK_FALSE(logbook::off_since(life.resumed, saved));
    life.recall();
    life.command(saved);
    REQUIRE(life.count("gap") == 1);
    CHECK(life.events[1].numbers.empty());
    life.run(600, 65);
    CHECK(life.dish(0).begun);
    life.set_clock({truth, true, true});
    REQUIRE(life.count("gap") == 2);
    auto const gap = std::ranges::find_if(
        life.events, [](Event const& e) { return e.name == "gap" && !e.numbers.empty(); });
    REQUIRE(gap != life.events.end());
    CHECK(std::abs(gap->numbers.at(0).second - 42 * 60) < 3);
    REQUIRE(life.dish(0).began);
    CHECK(std::abs(seconds(life.now - *life.dish(0).began) - (100 + 42 * 60 + 600)) < 3);
    life.run(5, 65);
    life.end();
    // Whoever asks for the readings hears of the time without any, where it was and not where it was learnt.
    logbook::Reader reader(path);
    HistoryQuery query;
    query.span = {midnight, truth + 3'600'000};
    query.probes = {"stock"};
    query.grain = Span(10'000);
    auto const history = past_history(reader, query).value;
    REQUIRE(history.gaps.size() == 1);
    CHECK(history.gaps[0].probe.empty());
    CHECK(std::abs(history.gaps[0].from - (midnight + 101'000)) < 12'000);
    CHECK(std::abs(history.gaps[0].to - (truth + 5'000)) < 3'000);
    for (auto const& point : history.series.at(0).points)
        CHECK((point.at <= history.gaps[0].from || point.at >= history.gaps[0].to - 10'000));

    // And off again: this time both clocks are right.
    Life next(path, "boot-c", Instant(Span(5'000)), {truth + 605'000 + 60'000, true, true});
    next.recall();
    CHECK(next.count("gap") == 1);
    CHECK(std::abs(seconds(next.now - *next.dish(0).began) - (100 + 42 * 60 + 605 + 60)) < 3);
}

TEST_CASE(
    "outages in a row on a board that knew no time between them are measured together when it is known, also "
    "after a restart or a reload between") {
    Scratch dir;
    auto const path = dir / "l.db";
    {
        Life life(path, "boot-a", start, right);
        life.recall();
        life.command(right);
        life.command(Begin{0});
        life.command(StartTimer{Span(3'600'000), "tea"});
        life.run(100, 65);
        life.end();
    }
    auto const how = GENERATE(0, 1, 2);  // cut again, another one yet, or only the program stopped
    auto const ahead_ms = GENERATE(60'000, 3 * 60'000);  // the saved time, of the newest one known
    ClockAnchor const saved{midnight + ahead_ms + 40'000, true, false};
    Instant between{};
    {
        Life life(path, "boot-b", Instant(Span(5'000)), saved);
        life.recall();
        life.command(saved);
        life.command(StartTimer{Span(1'200'000), "eggs"});
        life.run(20, 65);
        life.end();
        between = life.now;
    }
    if (how == 1) {
        Life life(path, "boot-b2", Instant(Span(5'000)), {midnight + 260'000, true, false});
        life.recall();
        life.command(life.anchor);
        life.run(20, 65);
        life.end();
    }
    char const* const boot = how == 2 ? "boot-b" : "boot-c";
    auto const began = how == 2 ? between + Span(30'000) : Instant(Span(5'000));
    // True: 100 s, off, 20 s (twice where it was cut three times), off, and now.
    std::int64_t const all_off = 6 * 3'600'000 + 28 * 60'000;
    auto const ran = how == 1 ? 40'000 : 20'000;
    auto const true_offset =
        midnight + (start - Instant{}).count() + 100'000 + all_off + ran - (began - Instant{}).count();
    ClockAnchor const wrong{how == 2 ? saved.offset_ms : midnight + 70'000, true, false};
    bool const at_once = GENERATE(false, true);  // the time is known when it starts
    CAPTURE(how, at_once);
    ClockAnchor const truth{true_offset, true, true};
    Life life(path, boot, began, at_once ? truth : wrong);
    life.recall();
    life.command(at_once ? truth : wrong);
    life.run(20, 65);
    if (!at_once) life.set_clock(truth);
    auto const gap = std::ranges::find_if(
        life.events, [](Event const& e) { return e.name == "gap" && e.text.find("in all") != e.text.npos; });
    REQUIRE(gap != life.events.end());
    CHECK(std::abs(gap->numbers.at(0).second - static_cast<double>(all_off) / 1000) < 4);
    REQUIRE(life.dish(0).began);
    CHECK(std::abs(seconds(life.now - *life.dish(0).began) - (100 + 20 + (ran + all_off) / 1000.0)) < 4);
    auto const timers = life.core->view().timers;
    REQUIRE(timers.size() == 2);
    auto const& tea = timers[timers[0].text == "tea" ? 0 : 1];
    auto const& eggs = timers[timers[0].text == "tea" ? 1 : 0];
    CHECK(tea.over);
    CHECK(std::abs(seconds(life.now - tea.ends) - (100 + 20 + (ran + all_off) / 1000.0 - 3600)) < 4);
    if (how == 2) {  // set in this boot: whatever was before it
        CHECK_FALSE(eggs.over);
        CHECK(std::abs(seconds(eggs.ends - life.now) - (1200 - 20 - 30 - 20)) < 4);
    } else {  // an outage came after it, and how long that one was is not known: it may be over
        CHECK(eggs.over);
    }
    CHECK(life.dish(0).begun);
    life.end();
    // Measured once, and not again.
    CHECK_FALSE(life.core->state().text("outage.offset-ms"));
}

TEST_CASE("a cook that began between two outages of unknown length is not one of which all was read") {
    Scratch dir;
    auto const path = dir / "l.db";
    first_life(path);
    ClockAnchor const saved{midnight + 60'000, true, false};
    {
        Life life(path, "boot-b", Instant(Span(5'000)), saved);
        life.recall();
        life.command(saved);
        life.command(Begin{1});
        life.run(20, 65);
        life.end();
    }
    Life life(path, "boot-c", Instant(Span(5'000)), saved);
    life.recall();
    life.command(saved);
    life.run(20, 65);
    life.set_clock({midnight + 7'200'000, true, true});
    CHECK(life.dish(1).begun);
    REQUIRE(life.dish(1).began);
    CHECK(*life.dish(1).began < life.now);
}

TEST_CASE("a kitchen file that is read anew before the time is known spoils no outage") {
    auto const judged = [](bool reloaded, bool other_names) {
        Scratch dir;
        auto const path = dir / "l.db";
        auto file = settings();
        file.dishes[0].core = 0;
        {
            Life life(path, "boot-a", start, right, file);
            life.recall();
            life.command(right);
            life.command(Begin{0});
            life.run(600, 30);
            life.end();
        }
        auto const truth = midnight + 601'000 + 42 * 60'000 - 5'000;
        ClockAnchor const saved{truth - 30 * 60'000, true, false};
        Life life(path, "boot-b", Instant(Span(5'000)), saved, file);
        life.recall();
        life.command(saved);
        life.run(100, 30);
        if (other_names) file.dishes[1].name = "pie";
        if (reloaded) life.reload(file);
        life.run(100, 30);
        life.command(StartTimer{Span(3'600'000), "tea"});
        life.set_clock({truth, true, true});
        life.run(5, 30);
        std::string text = std::to_string(seconds(life.now - life.dish(0).began.value_or(Instant{})));
        for (auto const& verdict : life.dish(0).verdicts)
            text += "\n" + verdict.rule + ": " + verdict.answer + ": " + verdict.text;
        for (auto const& timer : life.core->view().timers) text += "\n" + timer.text;
        return text;
    };
    auto const undisturbed = judged(false, false);
    CHECK(judged(true, false) == undisturbed);
    CHECK_THAT(undisturbed, INGLE_CONTAINS("tea"));
    // What numbers others have now is not read by the old ones: unknown, as it was.
    auto const renamed = judged(true, true);
    CHECK(renamed != undisturbed);
    CHECK_THAT(renamed, INGLE_CONTAINS("unknown") && INGLE_CONTAINS("tea"));
}
