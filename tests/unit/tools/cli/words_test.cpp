// Times, lengths and widths as people have them: one reader for all commands, and lines that fit a terminal.
#include "config/civil_time/iso_time.hpp"
#include "config/quantity.hpp"
#include "tests/support/catch.hpp"
#include "tools/cli/live/now_text.hpp"
#include "tools/cli/output/doc.hpp"
#include "tools/cli/output/fitted.hpp"
#include "tools/cli/output/text.hpp"
#include "tools/cli/time/local_time.hpp"
#include "tools/cli/time/span.hpp"

using namespace ingle;
using namespace ingle::cli;

namespace {

WallTime wall(std::string_view iso) {
    return parse_iso_time(iso).value();
}

}  // namespace

TEST_CASE("times that cooks say, and what is said of those that could be two") {
    auto const now = wall("2026-11-26T14:05:00-05:00");  // a Thursday
    auto const said = [&](char const* words, Toward toward = Toward::past) {
        auto const result = parse_moment(words, now, toward);
        return result.at ? local_iso(*result.at) : "wrong: " + result.wrong;
    };
    CHECK(said("two hours ago") == "2026-11-26T12:05:00-05:00");
    CHECK(said("Ten minutes ago") == "2026-11-26T13:55:00-05:00");
    CHECK(said("1 1/2 h ago") == "2026-11-26T12:35:00-05:00");
    CHECK(said("an hour and a half ago") == said("1 1/2 h ago"));
    CHECK(said("one and a half hours ago") == said("1 1/2 h ago"));
    CHECK(said("half an hour ago") == "2026-11-26T13:35:00-05:00");
    CHECK(said("a quarter of an hour ago") == "2026-11-26T13:50:00-05:00");
    CHECK(said("in two hours", Toward::future) == "2026-11-26T16:05:00-05:00");
    CHECK(said("last monday 5pm") == "2026-11-23T17:00:00-05:00");
    CHECK(said("last thursday 5 pm") == "2026-11-19T17:00:00-05:00");
    CHECK(said("next thursday 5 pm", Toward::future) == "2026-12-03T17:00:00-05:00");
    CHECK(said("last night 11 pm") == "2026-11-25T23:00:00-05:00");
    CHECK(said("last night at 2 am") == "2026-11-26T02:00:00-05:00");
    CHECK(said("tomorrow evening 7 pm", Toward::future) == "2026-11-27T19:00:00-05:00");
    CHECK(said("12.30") == "2026-11-26T12:30:00-05:00");
    CHECK(said("12h30") == "2026-11-26T12:30:00-05:00");
    CHECK(said("last night") ==
          "wrong: \"last night\" is several hours: say a time in it, such as \"yesterday 11 pm\"");
    CHECK(said("this afternoon") ==
          "wrong: \"this afternoon\" is several hours: say a time in it, such as \"3 pm\"");
    CHECK(said("tonight", Toward::future) ==
          "wrong: \"tonight\" is several hours: say a time in it, such as \"9 pm\"");
    CHECK_THAT(said("half past four"), INGLE_CONTAINS("say \"4:30 am\" or \"4:30 pm\""));
    CHECK_THAT(said("quarter to four"), INGLE_CONTAINS("say \"3:45 am\" or \"3:45 pm\""));
    CHECK_THAT(said("17"), INGLE_CONTAINS("say \"17:00\""));
    CHECK_THAT(said("last 10"), INGLE_CONTAINS("is not a time; try"));
    CHECK(iso_time(parse_span("this week", now).span.value().from) == "2026-11-23T05:00:00Z");
    CHECK(iso_time(parse_span("last two hours", now).span.value().from) == "2026-11-26T17:05:00Z");
}

TEST_CASE("lengths of time said with words") {
    auto const seconds = [](char const* words) {
        auto const parsed = parse_duration(words);
        auto const* length = std::get_if<Duration>(&parsed);
        return length ? length->seconds : -1;
    };
    CHECK(seconds("two hours") == 7200);
    CHECK(seconds("1 h and 30 min") == 5400);
    CHECK(seconds("2 1/2 h") == 9000);
    CHECK(seconds("half an hour") == 1800);
    CHECK(seconds("1h30") == 5400);
    for (auto const* wrong : {"20 min and", "and 20 min", "a", "half", "20 min a", "1/0 h", "1 1/ h", "an"})
        CHECK(seconds(wrong) == -1);
}

TEST_CASE("a line is broken between words, and never between a number and its unit") {
    CHECK(wrapped("the core target 73.9 degC is met", 22, "") == "the core target\n73.9 degC is met");
    CHECK(wrapped("it took 2 h, in all", 9, "") == "it took\n2 h, in\nall");
    CHECK(fitted("short\n  mark  a long line of words\n", 20) ==
          "short\n  mark  a long\n      line of words\n");
    CHECK(fitted("", 20).empty());
}

TEST_CASE("a page has signs for units, a text has words, and its tables fit 60 columns") {
    Doc doc;
    doc.title = "goose-roll";
    Section section;
    section.title = "core";
    Block row;
    row.kind = Block::Kind::table;
    row.head = {"what", "value"};
    row.rows = {{"core", "165.0 degF"},
                {"a cell that is so long that it does not fit 60 columns", "21 degF/min"}};
    row.rows.push_back({"degF-pot", "xdegC"});
    section.blocks.push_back(row);
    doc.sections.push_back(section);
    auto const page = doc_html(doc);
    CHECK_THAT(page, INGLE_CONTAINS("165.0 \u00b0F<") && INGLE_CONTAINS("21 \u00b0F/min"));
    CHECK_THAT(page, INGLE_CONTAINS("degF-pot") && INGLE_CONTAINS("xdegC"));
    auto const text = doc_text(doc, 60);
    CHECK_THAT(text, INGLE_CONTAINS("165.0 degF"));
    for (std::size_t at = 0, end = 0; at < text.size(); at = end + 1) {
        end = text.find('\n', at);
        CHECK(end - at <= 60);
    }
}

TEST_CASE("a timer that is over says how long it was, and two days have no hours over") {
    auto const timers =
        Json::parse(R"([{"timer": 5, "over": true, "left_s": 0, "length_s": 90, "text": "eggs"},
        {"timer": 6, "over": false, "left_s": 172560, "length_s": 172800, "text": ""}])");
    CHECK(timers_text(timers, 0) == "  5  over, was 90 s: eggs\n  6  47 h 56 min left of 48 h 00 min\n");
    CHECK(length_text(3 * 86'400) == "3 days");
    CHECK(length_text(3 * 86'400 + 7200) == "3 days 2 h");
}
