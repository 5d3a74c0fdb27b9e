// Spans, texts, charts, the alarm report and the rows of an export.
#include <algorithm>
#include <sstream>

#include "config/band_words.hpp"
#include "config/civil_time/iso_time.hpp"
#include "tests/support/catch.hpp"
#include "tools/cli/live/alarm_report.hpp"
#include "tools/cli/output/chart.hpp"
#include "tools/cli/output/text.hpp"
#include "tools/cli/past/export_rows.hpp"
#include "tools/cli/time/local_time.hpp"
#include "tools/cli/time/span.hpp"

using namespace ingle;
using namespace ingle::cli;

namespace {

WallTime wall(std::string_view iso) {
    return parse_iso_time(iso).value();
}

std::string spoken(std::string_view text, WallTime now) {
    auto const result = parse_span(text, now);
    if (!result.span) return "wrong: " + result.wrong;
    return iso_time(result.span->from) + " " + iso_time(result.span->to);
}

}  // namespace

TEST_CASE("spans as a cook says them") {
    auto const now = wall("2026-11-26T14:05:00-05:00");  // a Thursday
    CHECK(spoken("last 3 h", now) == "2026-11-26T16:05:00Z 2026-11-26T19:05:00.001Z");
    CHECK(spoken("90 min", now) == "2026-11-26T17:35:00Z 2026-11-26T19:05:00.001Z");
    CHECK(spoken("yesterday 14:00", now) == "2026-11-25T19:00:00Z 2026-11-26T19:05:00.001Z");
    CHECK(spoken("Yesterday", now) == "2026-11-25T05:00:00Z 2026-11-26T05:00:00Z");
    CHECK(spoken("today", now) == "2026-11-26T05:00:00Z 2026-11-26T19:05:00.001Z");
    CHECK(spoken("yesterday 22:00 to 02:00", now) == "2026-11-26T03:00:00Z 2026-11-26T07:00:00Z");
    CHECK(spoken("mon 18:00 to tue 02:00", now) == "2026-11-23T23:00:00Z 2026-11-24T07:00:00Z");
    CHECK(spoken("monday to tuesday", now) == "2026-11-23T05:00:00Z 2026-11-25T05:00:00Z");
    CHECK(spoken("13:00", now) == "2026-11-26T18:00:00Z 2026-11-26T19:05:00.001Z");
    CHECK(spoken("15:00 to 16:00", now) == "2026-11-25T20:00:00Z 2026-11-25T21:00:00Z");
    CHECK(spoken("2026-11-20 08:30 to 2026-11-20 09:00", now) == "2026-11-20T13:30:00Z 2026-11-20T14:00:00Z");
    CHECK(spoken("since 2026-11-20", now) == "2026-11-20T05:00:00Z 2026-11-26T19:05:00.001Z");
    CHECK(spoken("2026-11-26T12:00:00Z to 2026-11-26T13:00:00Z", now) ==
          "2026-11-26T12:00:00Z 2026-11-26T13:00:00Z");
    for (auto const* wrong : {"", "soon", "3", "25:00", "12:60", "2026-13-01", "yesterday 14:00 to",
                              "last 0 s", "to", "today 14:00 15:00", "last 101000 days",
                              "last 999999999999999999999 h", "99999-01-01", "9999-12-31T23:59:59-05:00",
                              "-9223372036854775808", "2026-11-26T13:00:00Z to 2026-11-26T12:00:00Z"}) {
        CHECK_THAT(spoken(wrong, now), INGLE_CONTAINS("wrong: "));
    }
}

TEST_CASE("moments as a cook says them, on the side that is meant") {
    auto const now = wall("2026-11-26T14:05:00-05:00");  // a Thursday
    auto const said = [&](char const* words, Toward toward = Toward::past) {
        auto const result = parse_moment(words, now, toward);
        return result.at ? local_iso(*result.at) : "wrong: " + result.wrong;
    };
    CHECK(said("2 pm") == "2026-11-26T14:00:00-05:00");
    CHECK(said("2:30pm") == "2026-11-25T14:30:00-05:00");
    CHECK(said("2:30 PM", Toward::future) == "2026-11-26T14:30:00-05:00");
    CHECK(said("noon") == "2026-11-26T12:00:00-05:00");
    CHECK(said("12 noon") == "2026-11-26T12:00:00-05:00");
    CHECK(said("12 midnight") == said("midnight"));
    CHECK(said("noon", Toward::future) == "2026-11-27T12:00:00-05:00");
    CHECK(said("12 am") == "2026-11-26T00:00:00-05:00");
    CHECK(said("20 min ago") == "2026-11-26T13:45:00-05:00");
    CHECK(said("3 h ago") == "2026-11-26T11:05:00-05:00");
    CHECK(said("an hour ago") == "2026-11-26T13:05:00-05:00");
    CHECK(said("in 2 h", Toward::future) == "2026-11-26T16:05:00-05:00");
    CHECK(said("17:00", Toward::future) == "2026-11-26T17:00:00-05:00");
    CHECK(said("17:00") == "2026-11-25T17:00:00-05:00");
    CHECK(said("tomorrow at 5 pm", Toward::future) == "2026-11-27T17:00:00-05:00");
    CHECK(said("5 pm tomorrow", Toward::future) == "2026-11-27T17:00:00-05:00");
    CHECK(said("sat 18:00", Toward::future) == "2026-11-28T18:00:00-05:00");
    CHECK(said("Nov 25 5 pm") == "2026-11-25T17:00:00-05:00");
    CHECK(said("25 November, 17:00") == "2026-11-25T17:00:00-05:00");
    CHECK(said("Dec 24 noon") == "2025-12-24T12:00:00-05:00");
    CHECK(said("Dec 24 noon", Toward::future) == "2026-12-24T12:00:00-05:00");
    CHECK_THAT(said("tomorrow", Toward::future),
               INGLE_CONTAINS("say a time in it, such as \"tomorrow 5 pm\""));
    CHECK(said("5") == "wrong: \"5\" can be morning or evening: say \"5 am\" or \"5 pm\"");
    CHECK(said("this morning") ==
          "wrong: \"this morning\" is several hours: say a time in it, such as \"9 am\"");
    for (auto const* wrong :
         {"13 pm", "0 pm", "25:00", "nov 31", "ago", "in", "20 ago", "soon", "pm", "-5 min ago"})
        CHECK_THAT(said(wrong), INGLE_CONTAINS("wrong: "));
    CHECK(spoken("last hour", now) == "2026-11-26T18:05:00Z 2026-11-26T19:05:00.001Z");
    CHECK(spoken("this morning", now) == "2026-11-26T10:00:00Z 2026-11-26T17:00:00Z");
    CHECK(spoken("last night", now) == "2026-11-26T01:00:00Z 2026-11-26T11:00:00Z");
    CHECK(spoken("3 h ago", now) == "2026-11-26T16:05:00Z 2026-11-26T19:05:00.001Z");
    CHECK(spoken("13:00 to 15:00", now) == "2026-11-26T18:00:00Z 2026-11-26T20:00:00Z");
    CHECK(spoken("Nov 25", now) == "2026-11-25T05:00:00Z 2026-11-26T05:00:00Z");
    CHECK(spoken("noon to 2 pm", now) == "2026-11-26T17:00:00Z 2026-11-26T19:00:00Z");
}

TEST_CASE("a band as it is said on a command line") {
    auto const said = [](std::vector<std::string> const& words) {
        auto const band = read_band(words);
        return band.wrong.empty() ? band.low + " | " + band.high : "wrong: " + band.wrong;
    };
    CHECK(said({"180 degF", "190 degF"}) == "180 degF | 190 degF");
    CHECK(said({"180", "to", "190", "degF"}) == "180 degF | 190 degF");
    CHECK(said({"180 to 190 degF"}) == "180 degF | 190 degF");
    CHECK(said({"180F", "190F"}) == "180 F | 190 F");
    CHECK(said({"180-190F"}) == "180 F | 190 F");
    CHECK(said({"180\u2013190 degF"}) == "180 degF | 190 degF");
    CHECK(said({"\u22125 degC", "5 degC"}) == "-5 degC | 5 degC");
    CHECK(said({"82.5..88°C"}) == "82.5 °C | 88 °C");
    CHECK(said({"-20 to -18 degC"}) == "-20 degC | -18 degC");
    CHECK(said({"-25 degC", "-18 degC"}) == "-25 degC | -18 degC");
    CHECK(said({"-25C", "-18C"}) == "-25 C | -18 C");
    CHECK(said({"-25", "-18", "degC"}) == "-25 degC | -18 degC");
    CHECK(said({"2 degC", "-18 degC"}) == "2 degC | -18 degC");
    CHECK(said({"-25--18 degC"}) == "-25 degC | -18 degC");
    CHECK(said({"180 - 190F"}) == "180 F | 190 F");
    CHECK(said({"180", "-", "190F"}) == "180 F | 190 F");
    CHECK(said({"180F"}) == "wrong: that is one end; say both ends of the band, such as 180 to 190 degF");
    CHECK(said({}) == "wrong: say both ends of the band, such as 180 to 190 degF");
    CHECK(said({"hot"}) ==
          "wrong: \"hot\" is not a band; say both ends of the band, such as 180 to 190 degF");
    CHECK_THAT(said({"180", "190"}), INGLE_CONTAINS("has no unit"));
    CHECK_THAT(said({"1", "2", "3 degF"}), INGLE_CONTAINS("is not a band"));
}

// field cases C3, C5, C7
TEST_CASE("the doubled and the missing hour") {
    auto const now = wall("2026-11-01T12:00:00-05:00");
    // 01:30 came twice that night: a span between such times covers both.
    CHECK(spoken("today 01:30 to 01:45", now) == "2026-11-01T05:30:00Z 2026-11-01T06:45:00Z");
    CHECK(spoken("today", now) == "2026-11-01T04:00:00Z 2026-11-01T17:00:00.001Z");
    CHECK(time_text(wall("2026-11-01T01:30:00-04:00")) == "Sun 2026-11-01 01:30:00 (UTC-04:00)");
    CHECK(time_text(wall("2026-11-01T01:30:00-05:00")) == "Sun 2026-11-01 01:30:00 (UTC-05:00)");
    CHECK(time_text(wall("2026-11-01T00:59:59-04:00")) == "Sun 2026-11-01 00:59:59");
    CHECK(time_text(wall("2026-11-01T02:00:00-05:00"), false, false) == "02:00");
    // 02:30 did not come on 2026-03-08: the clock jumped over it.
    auto const spring = wall("2026-03-08T12:00:00-04:00");
    CHECK_FALSE(parse_moment("today 02:30", spring).at);
    CHECK(parse_moment("02:30", spring).wrong ==
          "there was no 02:30 on 2026-03-08: the clocks were put forward over it");
    CHECK(spoken("today 01:00 to 02:30", spring) ==
          "wrong: there was no 02:30 on 2026-03-08: the clocks were put forward over it");
    CHECK(parse_moment("today 01:59", spring).at == wall("2026-03-08T01:59:00-05:00"));
    CHECK(parse_moment("today 03:00", spring).at == wall("2026-03-08T03:00:00-04:00"));
    // The leap second is refused with a word on what is understood (field case C7).
    CHECK_THAT(spoken("yesterday 23:59:60", spring), INGLE_CONTAINS("is not a time span"));
}

TEST_CASE("ages, lengths and temperatures for people") {
    CHECK(age_text(0.4) == "0 s old");
    CHECK(age_text(119) == "119 s old");
    CHECK(age_text(240) == "4 min old");
    CHECK(age_text(3 * 3600) == "3 h old");
    CHECK(age_text(3 * 86'400) == "3 days old");
    CHECK(length_text(3 * 3600 + 5 * 60 + 29) == "3 h 05 min");
    CHECK(length_text(100) == "2 min");
    CHECK(ahead_text(720, 480, 1200) == "in about 12 min (8 min to 20 min)");
    CHECK(temperature_text(85.0, TemperatureUnit::fahrenheit) == "185.0 degF");
    CHECK(temperature_text(-0.01, TemperatureUnit::celsius) == "0.0 degC");
    CHECK(temperature_text({}, TemperatureUnit::celsius) == "-");
    CHECK(band_text(82.2222222, 87.7777778, TemperatureUnit::fahrenheit) == "180 to 190 degF");
    CHECK(slope_text(0.5, TemperatureUnit::fahrenheit) == "+0.9 degF/min");
    CHECK(slope_text(-0.01, TemperatureUnit::celsius) == "steady");
    Table table;
    table.row({"a", "1", "x"});
    table.row({"brühe", "100", ""});
    table.right(1);
    CHECK(table.text("") == "a        1  x\nbrühe  100\n");
    CHECK(wrapped("one two three", 9, "  ") == "  one two\n  three");
}

TEST_CASE("a chart shows range, mean, band, gaps and faults without colour") {
    ChartSpec spec;
    for (int i = 0; i < 20; ++i) {
        double const value = 80 + i;
        spec.columns.push_back({value - 1, value, value + 1, false});
    }
    spec.columns[5] = {{}, {}, {}, true};
    spec.columns[6] = {};
    spec.band = {82.0, 95.0};
    spec.from_label = "12:00";
    spec.to_label = "13:00";
    spec.marks = {{10, 'A'}};
    auto const text = chart_text(spec);
    std::istringstream lines(text);
    std::vector<std::string> all;
    for (std::string line; std::getline(lines, line);) all.push_back(line);
    // Every column with readings has exactly one mean; columns 5 and 6 have nothing but what lies below.
    std::vector<int> means(20, 0);
    for (auto const& line : all) {
        for (std::size_t i = 9; i < line.size() && i < 29; ++i) {
            if (line[8] == '|' && line[i] == 'o') ++means[i - 9];
            if (line[8] == '|' && (i == 14 || i == 15)) CHECK(line[i] == ' ');
        }
    }
    for (std::size_t i = 0; i < 20; ++i) CHECK(means[i] == (i == 5 || i == 6 ? 0 : 1));
    CHECK_THAT(text, INGLE_CONTAINS("   82.0 |"));
    CHECK_THAT(text, INGLE_CONTAINS("   95.0 |"));
    CHECK(all[all.size() - 2] == "              x.   A");
    CHECK(all.back() == "         12:00          13:00");
    for (auto const& line : all) CHECK(line.find('\x1b') == std::string::npos);
    CHECK(chart_text({}) == "  no readings in this span\n");
    // Nothing but one value is a chart, too.
    ChartSpec flat;
    flat.columns.push_back({85.0, 85.0, 85.0, false});
    CHECK_THAT(chart_text(flat), INGLE_CONTAINS("o"));
}

TEST_CASE("the alarm report counts what IEC 62682 and EEMUA 191 ask for") {
    auto const begin = wall("2026-11-25T00:00:00Z");
    std::vector<logbook::AlarmRow> rows;
    auto const add = [&](std::int64_t id, char const* name, char const* transition, int at_s,
                         char const* by = "") {
        logbook::AlarmRow row;
        row.at.wall = begin + std::chrono::seconds(at_s);
        row.alarm = id;
        row.name = name;
        row.subject = "stockpot";
        row.priority = "medium";
        row.transition = transition;
        row.by = by;
        rows.push_back(row);
    };
    add(1, "above-band", "raised", 0);
    add(1, "above-band", "acknowledged", 60, "anna");
    add(1, "above-band", "cleared", 600);
    for (int i = 0; i < 3; ++i) {
        add(2 + i, "below-band", "raised", 7200 + i * 30);
        add(2 + i, "below-band", "cleared", 7210 + i * 30);
    }
    add(5, "probe-open", "raised", 10'000);
    auto const spells = spells_of(rows);
    REQUIRE(spells.size() == 5);
    CHECK(spells[0].acknowledged_by == "anna");
    CHECK(spells[0].cleared == begin + std::chrono::seconds(600));
    CHECK_FALSE(spells[4].cleared);
    auto const report = report_of(spells, begin, begin + std::chrono::hours(50));
    CHECK(report.raised == 5);
    CHECK(report.acknowledged == 1);
    CHECK_THAT(report.per_hour, WithinAbs(0.1, 1e-12));
    CHECK(report.peak_10_min == 3);
    CHECK(report.peak_at == begin + std::chrono::seconds(7200));
    REQUIRE(report.chattering.size() == 1);
    CHECK(report.chattering[0].alarm == "below-band");
    REQUIRE(report.stale.size() == 1);
    CHECK(report.stale[0].id == 5);
    CHECK(report.longest[0].id == 5);
    CHECK(report.most_frequent[0].alarm == "below-band");
    CHECK(report_of({}, begin, begin).raised == 0);
}

TEST_CASE("an export has a row for each moment, and its faults as words") {
    auto const begin = wall("2026-11-26T12:00:00-05:00");
    auto const point = [&](int ms, double celsius) {
        logbook::Point p;
        p.at.wall = begin + std::chrono::milliseconds(ms);
        p.n = 1;
        p.min = p.max = p.mean = celsius;
        return p;
    };
    logbook::History stock, smoke;
    stock.points = {point(0, 85.0), point(1000, 85.25)};
    smoke.points = {point(1000, 100.0)};
    logbook::FaultSpell spell;
    spell.from.wall = begin + std::chrono::milliseconds(2000);
    spell.to.wall = begin + std::chrono::milliseconds(4000);
    spell.readings = 3;
    spell.kind = "open";
    smoke.faults = {spell};
    logbook::EventRow note;
    note.at.wall = begin + std::chrono::milliseconds(1000);
    note.text = "lid, on";
    WallSpan const span{begin, begin + std::chrono::seconds(10)};

    ExportRows elapsed({"stock", "smoke"}, Scale::fahrenheit, true);
    auto const text = elapsed.header() + elapsed.piece({stock, smoke}, {note}, span);
    auto const parsed = parse_recording(text);
    REQUIRE(parsed.errors.empty());
    auto const& recording = parsed.recording;
    REQUIRE(recording.rows() == 4);
    CHECK(recording.times[3] == Span(4000));
    CHECK_THAT(std::get<double>(recording.row(1)[0]), WithinAbs(85.25, 1e-6));
    CHECK(std::holds_alternative<std::monostate>(recording.row(0)[1]));
    CHECK(std::get<FaultKind>(recording.row(2)[1]) == FaultKind::open);
    REQUIRE(recording.notes.size() == 1);
    CHECK(recording.notes[0] == std::pair<std::size_t, std::string>(1, "lid, on"));

    ExportRows real({"stock", "smoke"}, Scale::celsius, false);
    auto const again = parse_recording(real.header() + real.piece({stock, smoke}, {note}, span));
    REQUIRE(again.errors.empty());
    CHECK(again.recording.start == begin);
    CHECK_THAT(real.piece({stock, smoke}, {}, span), INGLE_CONTAINS("2026-11-26T12:00:01-05:00"));
}
