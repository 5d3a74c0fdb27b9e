#include "config/wall_time.hpp"

#include <string>

#include "config/civil_time/iso_time.hpp"

namespace ingle {

Parsed<WallMoment> parse_wall_time(std::string_view text) {
    auto const read = read_iso_time(text);
    if (read.at) return WallMoment{read.at->time_since_epoch().count()};
    return QuantityError{'"' + std::string(text) + "\" " + std::string(read.wrong),
                         "write it like \"2026-11-26T17:00:00-05:00\""};
}

}  // namespace ingle
