// Of what was asked for reading by reading, where the logbook keeps only the minutes (`keep-readings`).
#pragma once

#include <optional>
#include <string>

#include "daemon/logbook/reader.hpp"
#include "tools/cli/time/span.hpp"

namespace ingle::cli {

class Thinned {
public:
    // `readings`: of `probe`, each reading of `span`.
    void look(logbook::Reader& reader, std::string const& probe, WallSpan span,
              logbook::History const& readings);
    std::string words() const;  // a sentence; "" = each reading is there

private:
    std::optional<WallSpan> where_;
};

}  // namespace ingle::cli
