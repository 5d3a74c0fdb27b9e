// Histories of several probes merged into the rows of a recording, piece by piece. Pure.
#pragma once

#include <string>
#include <vector>

#include "daemon/logbook/reader.hpp"
#include "drivers/reading/recording.hpp"
#include "tools/cli/time/span.hpp"

namespace ingle::cli {

class ExportRows {
public:
    ExportRows(std::vector<std::string> const& probes, Scale scale, bool elapsed);

    std::string header() const;
    // A cook's export begins with a row at its begin, read or not: what is made of it begins then too.
    void begins_at(WallTime at) { first_ = at; }
    // `histories` in the order of the probes, every reading; `notes` of the whole export. Readings of the
    // same millisecond share a row; a fault spell is written at its first and last reading.
    std::string piece(std::vector<logbook::History> const& histories,
                      std::vector<logbook::EventRow> const& notes, WallSpan span);
    std::size_t count() const { return count_; }

private:
    RecordingWriter writer_;
    std::size_t columns_ = 0, count_ = 0;
    bool elapsed_ = false;
    std::optional<WallTime> first_, start_;
};

}  // namespace ingle::cli
