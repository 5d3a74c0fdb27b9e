// A recording: readings of several probes over time, as a CSV file (RFC 4180). The recorded driver and
// `ingle replay` read it, export writes it. Pure but for no_recording; any thread.
#pragma once

#include <chrono>
#include <cstdint>
#include <optional>
#include <span>
#include <string>
#include <string_view>
#include <utility>
#include <variant>
#include <vector>

#include "drivers/reading/clock.hpp"
#include "drivers/reading/reading.hpp"

namespace ingle {

// One cell: nothing was read, degC, or a fault ("open", "short", "garbled").
using Cell = std::variant<std::monostate, double, FaultKind>;
enum class Scale { celsius, fahrenheit };  // what a column is written in; in memory it is always degC

struct Recording {
    struct Column {
        std::string name;
        Scale scale = Scale::celsius;
    };
    std::vector<Column> columns;
    std::vector<Span> times;        // one a row, never falling; from the start
    std::vector<Cell> cells;        // row by row, columns.size() a row
    std::optional<WallTime> start;  // if the times were wall times: when the first row was
    std::vector<std::pair<std::size_t, std::string>> notes;  // row and text

    std::size_t rows() const { return times.size(); }
    std::span<Cell const> row(std::size_t number) const {
        return std::span(cells).subspan(number * columns.size(), columns.size());
    }
    int column(std::string_view name) const;  // -1 if there is none
};

struct RecordingError {
    int line = 0, column = 0;  // from 1; of the cell
    std::string what;          // one sentence
    std::string text(std::string_view file) const;
};
struct ParsedRecording {
    Recording recording;
    std::vector<RecordingError> errors;  // the first 20; the recording is usable only if there are none
};
ParsedRecording parse_recording(std::string_view text);

constexpr std::size_t longest_recording = std::size_t{256}
                                          << 20;  // bytes of the file; all of it is in memory
// Why the file at `path` cannot be a recording, before it is opened: it is no regular file (what answers
// slowly or without end would hold up whoever reads it), or is too long. "" = it can, or is not there.
std::string no_recording(std::string const& path);

// The reading in a cell; empty where nothing was read.
std::optional<Reading> reading_of(Cell const& cell, Instant at);
// The nearest cell to a fault: a short of any kind is "short", silence is an empty cell, the rest "garbled".
Cell cell_of(Reading const& reading);

// Writes one row at a time, so that a long export needs no memory.
class RecordingWriter {
public:
    RecordingWriter(std::vector<Recording::Column> columns, bool notes)
        : columns_(std::move(columns)), notes_(notes) {}
    void header(std::string& out) const;
    // `cells` in degC, one for each column; missing ones are empty.
    void row(std::string& out, Span since_start, std::span<Cell const> cells,
             std::string_view note = "") const;
    void row(std::string& out, WallTime at, std::chrono::minutes offset, std::span<Cell const> cells,
             std::string_view note = "") const;

private:
    void rest(std::string& out, std::span<Cell const> cells, std::string_view note) const;

    std::vector<Recording::Column> columns_;
    bool notes_;
};

// The whole of it: in wall time (UTC) if it has a start, else in seconds.
std::string write_recording(Recording const& recording);

}  // namespace ingle
