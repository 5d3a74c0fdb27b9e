// The alarms that the logbook has of a span, each put together from what was told of it.
#pragma once

#include <string>
#include <vector>

#include "daemon/logbook/reader.hpp"
#include "tools/cli/past/book.hpp"

namespace ingle::cli {

// One alarm from its raise to its end, put together from its transitions. `kind`: what its subject is.
struct AlarmSpell {
    std::int64_t id = 0;
    std::string alarm, kind, subject, priority, text, acknowledged_by;
    WallTime raised{};
    std::optional<WallTime> acknowledged, cleared;
    int spells = 1;
    double worst = 0;
};
// `rows` in time order. An alarm that was raised before the rows begin counts from its first row.
std::vector<AlarmSpell> spells_of(std::vector<logbook::AlarmRow> const& rows);

// Those of what was asked for, of which its span has a word; an alarm that was raised before the span began
// then, not with its first word in it.
std::vector<AlarmSpell> spells_in(Book& book, Selection const& selection);

}  // namespace ingle::cli
