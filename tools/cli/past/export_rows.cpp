#include "tools/cli/past/export_rows.hpp"

#include <algorithm>
#include <map>

#include "tools/cli/time/local_time.hpp"

namespace ingle::cli {
namespace {

struct Row {
    std::vector<Cell> cells;
    std::string note;
};

std::vector<Recording::Column> columns_of(std::vector<std::string> const& probes, Scale scale) {
    std::vector<Recording::Column> columns;
    for (auto const& name : probes) columns.push_back({name, scale});
    return columns;
}

Cell fault_cell(std::string const& kind) {
    auto const known = fault_kind_from(kind);
    return cell_of(Reading::faulty(Instant{}, known.value_or(FaultKind::unspecified), ""));
}

}  // namespace

ExportRows::ExportRows(std::vector<std::string> const& probes, Scale scale, bool elapsed)
    : writer_(columns_of(probes, scale), true), columns_(probes.size()), elapsed_(elapsed) {}

std::string ExportRows::header() const {
    std::string out;
    writer_.header(out);
    return out;
}

std::string ExportRows::piece(std::vector<logbook::History> const& histories,
                              std::vector<logbook::EventRow> const& notes, WallSpan span) {
    std::map<WallTime, Row> rows;
    auto const row_at = [&](WallTime at) -> Row& {
        auto& row = rows[at];
        row.cells.resize(columns_);
        return row;
    };
    if (first_ && *first_ >= span.from && *first_ < span.to) row_at(*first_);
    for (std::size_t column = 0; column < histories.size(); ++column) {
        for (auto const& point : histories[column].points) {
            if (point.n > 0) row_at(point.at.wall).cells[column] = point.mean;
        }
        for (auto const& fault : histories[column].faults) {
            for (auto const at : {fault.from.wall, fault.to.wall}) {
                if (at >= span.from && at < span.to) row_at(at).cells[column] = fault_cell(fault.kind);
            }
        }
    }
    for (auto const& note : notes) {
        if (note.at.wall < span.from || note.at.wall >= span.to) continue;
        auto& text = row_at(note.at.wall).note;
        text += (text.empty() ? "" : "; ") + note.text;
    }
    std::string out;
    for (auto const& [at, row] : rows) {
        if (!start_) start_ = at;
        if (elapsed_) {
            writer_.row(out, at - *start_, row.cells, row.note);
        } else {
            writer_.row(out, at, local_zone().offset(at), row.cells, row.note);
        }
        ++count_;
    }
    return out;
}

}  // namespace ingle::cli
