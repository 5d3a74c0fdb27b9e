// How well the alarms themselves behave over a span: the measures of IEC 62682 and EEMUA 191. Pure.
#pragma once

#include <map>
#include <string>
#include <vector>

#include "daemon/logbook/reader.hpp"

namespace ingle::cli {

// One alarm from its raise to its end, put together from its transitions.
struct AlarmSpell {
    std::int64_t id = 0;
    std::string alarm, subject, priority, text, acknowledged_by;
    WallTime raised{};
    std::optional<WallTime> acknowledged, cleared;
    int spells = 1;
    double worst = 0;
};
// `rows` in time order. An alarm that was raised before the rows begin counts from its first row.
std::vector<AlarmSpell> spells_of(std::vector<logbook::AlarmRow> const& rows);

struct AlarmReport {
    std::size_t raised = 0, acknowledged = 0;
    double per_hour = 0;
    std::size_t peak_10_min = 0;
    WallTime peak_at{};
    struct Bad {
        std::string alarm, subject;
        std::size_t raised = 0;
        double longest_s = 0;
    };
    std::vector<Bad> most_frequent;   // by alarm and subject, the ten worst
    std::vector<Bad> chattering;      // raised three times or more within a minute
    std::vector<AlarmSpell> stale;    // standing for more than 24 h
    std::vector<AlarmSpell> longest;  // the five that stood longest
};
AlarmReport report_of(std::vector<AlarmSpell> const& spells, WallTime from, WallTime to);

}  // namespace ingle::cli
