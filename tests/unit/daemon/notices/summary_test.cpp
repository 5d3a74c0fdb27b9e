// Several notices that waited, as one: each alarm once, by what is so now, and in the order of what is grave.
#include "daemon/notices/summary.hpp"

#include "daemon/notices/newer.hpp"
#include "tests/support/catch.hpp"
#include "tests/unit/daemon/notices/queue_bench.hpp"

using namespace ingle;
using namespace ingle::test;

namespace {

Notice group(std::string const& id, char const* kind, char const* at, std::vector<NoticePart> parts) {
    auto notice = about(id, kind, parts.front().priority.c_str(), parts.front().subject.c_str());
    notice.at = std::string("2026-11-26T") + at + ":00+00:00";
    notice.single = false;
    notice.text = "as it was told: " + id;
    for (auto const& part : parts) notice.link_alarms.push_back(part.number);
    notice.parts = std::move(parts);
    return notice;
}

NoticePart part(std::int64_t number, char const* alarm, char const* subject, char const* priority,
                char const* text) {
    return {number, alarm, subject, priority, "2026-11-26T16:00:00+00:00", text};
}

}  // namespace

TEST_CASE("what a newer notice is to an older one: one table for the queue and the summary") {
    struct Row {
        char const *newer, *older;
        Newer word;
        bool waits, listed;  // whether the older one waits on beside it, and has a line in a summary
    };
    using enum Newer;
    for (auto const& row :
         {Row{"raised", "raised", in_its_place, false, false},
          Row{"raised", "reminder", in_its_place, false, false},
          Row{"raised", "cleared", in_its_place, false, false},
          Row{"reminder", "raised", in_its_place, false, false},
          Row{"reminder", "reminder", in_its_place, false, false},
          Row{"reminder", "cleared", in_its_place, false, false},
          Row{"cleared", "raised", its_end, false, true},
          Row{"cleared", "reminder", in_its_place, false, false},
          Row{"cleared", "cleared", in_its_place, false, false}, Row{"summary", "raised", beside, true, true},
          Row{"raised", "summary", beside, true, true}, Row{"heartbeat", "cleared", beside, true, true},
          Row{"test", "reminder", beside, true, true}}) {
        INFO(row.newer << " after " << row.older);
        auto const older = about("a", row.older, "high"), newer = about("b", row.newer, "high");
        CHECK(newer_word(newer, older) == row.word);
        Bench bench;
        bench.add(older);
        CHECK(bench.add(newer).empty() == row.waits);
        CHECK(bench.queue.size() == (row.waits ? 2u : 1u));
        auto const text = summary_of({{&older}, {&newer}}, nullptr, "2026-11-26").text;
        CHECK((text.find("\n2 notices") != std::string::npos) == row.listed);

        // Of another vessel, of another alarm, of several alarms: all are told.
        auto other = about("b", row.newer, "high", "bath");
        CHECK(newer_word(other, older) == beside);
        other = newer;
        other.alarm = "below-band";
        CHECK(newer_word(other, older) == beside);
        auto several = older;
        several.single = false;
        Bench with_several;
        with_several.add(several);
        CHECK(with_several.add(newer).empty());
    }
}

TEST_CASE("of a group whose first alarm is over the lock screen shows the one that stands") {
    auto const first = group("a", "raised", "20:42",
                             {part(1, "above-band", "kettle", "high", "kettle is at 82 °C"),
                              part(2, "above-band", "tub", "medium", "tub is at 66 °C")});
    auto const again = group("b", "reminder", "20:52",
                             {part(1, "above-band", "kettle", "high", "Still: kettle is at 82 °C"),
                              part(2, "above-band", "tub", "medium", "Still: tub is at 66 °C")});
    auto ended = about("c", "cleared", "high", "kettle");
    ended.alarm = "above-band";
    ended.at = "2026-11-26T21:09:00+00:00";
    ended.text = "kettle is no longer above its band";
    ended.link_alarms = {1};
    std::set<std::int64_t> const open{2};
    auto const summary = summary_of({{&first}, {&again}, {&ended}}, &open, "2026-11-26");
    CHECK(summary.text ==
          "At 20:52, told late: Still: tub is at 66 °C\n2 notices, late: they could not be delivered before. "
          "What they said, with the time of each:\nStill open:\n20:52  Still: tub is at 66 °C\n"
          "Over by now, or covered by what is open:\n21:09  kettle is no longer above its band");
    CHECK(summary.subject == "tub");
    CHECK(summary.link_alarms == std::vector<std::int64_t>{2});
    CHECK(summary.parts.empty());

    // Where the beginning never arrived, both are told; a reminder in between is not.
    auto const story = summary_of({{&first}, {&ended}}, &open, "2026-11-26");
    CHECK_THAT(story.text, INGLE_CONTAINS("20:42  kettle is at 82 °C\n21:09  kettle is no longer above"));
}

TEST_CASE("a group that goes out late, and of which a part is over, says which") {
    for (bool const both_open : {true, false}) {
        Bench bench;
        bench.add(group("a", "raised", "20:42",
                        {part(1, "above-band", "kettle", "high", "kettle is at 82 °C"),
                         part(2, "above-band", "tub", "medium", "tub is at 66 °C")}));
        bench.now.open = both_open ? std::set<std::int64_t>{1, 2} : std::set<std::int64_t>{2};
        bench.pass(40min);
        auto const sent = bench.next();
        CHECK(sent.ids == std::vector<std::string>{"a"});
        CAPTURE(sent.notice.text);
        CHECK(sent.notice.text.starts_with(both_open ? "At 20:42, told late: as it was told"
                                                     : "At 20:42, told late: tub is at 66 °C"));
        CHECK((sent.notice.text.find("Over by now") != std::string::npos) != both_open);
        bench.answer(Attempt::delivered());
        CHECK(bench.queue.size() == 0);
    }
}

TEST_CASE("what a notice says of each alarm is known after a kill") {
    auto const before = group("a", "raised", "20:42",
                              {part(1, "above-band", "kettle", "high", "kettle is at 82 °C"),
                               part(2, "stage-over", "roll", "medium", "roll: poach is over")});
    auto const after = notice_from_json(stored_json(before));
    REQUIRE(after);
    REQUIRE(after->parts.size() == 2);
    CHECK(after->parts[0].number == 1);
    CHECK(after->parts[1].alarm == "stage-over");
    CHECK(after->parts[1].subject == "roll");
    CHECK(after->parts[1].priority == "medium");
    CHECK(after->parts[1].since == before.parts[1].since);
    CHECK(after->parts[1].text == "roll: poach is over");
    CHECK(to_json(before).find("parts") == std::string::npos);  // no receiver is told of it
}
