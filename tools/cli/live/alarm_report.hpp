// How well the alarms themselves behave over a span: the measures of IEC 62682 and EEMUA 191. Pure.
#pragma once

#include <map>
#include <string>
#include <vector>

#include "tools/cli/past/alarm_spells.hpp"

namespace ingle::cli {

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
