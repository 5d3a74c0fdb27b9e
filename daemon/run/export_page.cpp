// A recording out of the logbook, a piece at a time.
#include <algorithm>
#include <charconv>
#include <map>

#include "daemon/run/past.hpp"
#include "drivers/reading/recording.hpp"

namespace ingle {
namespace {

constexpr std::int64_t page_ms = 900'000;                // of recording: about 256 KiB at 8 probes and 1 Hz
constexpr std::int64_t most_empty_pages = 4 * 24 * 366;  // pages without a row are skipped within one call

FaultKind kind_of(std::string const& word) {
    return fault_kind_from(word).value_or(FaultKind::garbled);
}

struct Row {
    std::vector<Cell> cells;
    std::string note;
};

}  // namespace

Answer<ExportPage> export_page(logbook::Reader& reader, ExportQuery const& query, std::string const& cursor,
                               TemperatureUnit unit, TimeZone const& zone) {
    Answer<ExportPage> answer;
    auto names = query.probes;
    if (names.empty())
        for (auto const& probe : reader.probes())
            if (std::ranges::find(names, probe.name) == names.end()) names.push_back(probe.name);
    std::vector<Recording::Column> columns;
    for (auto const& name : names)
        columns.push_back({name, unit == TemperatureUnit::celsius ? Scale::celsius : Scale::fahrenheit});
    RecordingWriter const writer(columns, true);

    auto span = query.span;
    if (auto const extent = reader.extent()) {
        span.from = std::max(span.from, extent->from.time_since_epoch().count());
        span.to = std::min(span.to, extent->to.time_since_epoch().count() + 1);
    }
    auto from = span.from;
    if (cursor.empty()) {
        writer.header(answer.value.text);
    } else {
        std::from_chars(cursor.data(), cursor.data() + cursor.size(), from);
    }
    bool written = false;
    for (std::int64_t page = 0; from < span.to && !written && page < most_empty_pages; ++page) {
        auto const to = std::min(from + page_ms, span.to);
        logbook::Window const window{WallTime(std::chrono::milliseconds(from)),
                                     WallTime(std::chrono::milliseconds(to))};
        std::vector<logbook::HistoryQuery> asked;
        for (auto const& name : names) asked.push_back({name, window});
        std::map<std::int64_t, Row> rows;
        auto const row_at = [&](logbook::Moment const& at) -> Row& {
            auto& row = rows[at.wall.time_since_epoch().count()];
            row.cells.resize(names.size());
            return row;
        };
        auto const found = reader.history(asked);
        for (std::size_t probe = 0; probe < found.size(); ++probe) {
            for (auto const& point : found[probe].points) row_at(point.at).cells[probe] = point.mean;
            for (auto const& spell : found[probe].faults)
                row_at(spell.from).cells[probe] = kind_of(spell.kind);
        }
        for (auto const& event : reader.events(window, "note")) row_at(event.at).note = event.text;
        for (auto const& [at, row] : rows) {
            WallTime const wall{std::chrono::milliseconds(at)};
            if (query.elapsed)
                writer.row(answer.value.text, Span(at - query.span.from), row.cells, row.note);
            else
                writer.row(answer.value.text, wall, zone.offset(wall), row.cells, row.note);
        }
        written = !rows.empty();
        from = to;
    }
    if (from < span.to) answer.value.cursor = std::to_string(from);
    answer.error = reader.failure();
    return answer;
}

}  // namespace ingle
