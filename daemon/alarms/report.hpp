// How the alarms themselves performed over a span: the measures of IEC 62682 and EEMUA 191, which alarms look
// like nuisances, and which delay or deadband would have prevented them. Pure; fed by whoever has the record.
#pragma once

#include <array>
#include <cstdint>
#include <optional>
#include <span>
#include <string>
#include <utility>
#include <vector>

#include "daemon/model/alarm.hpp"
#include "daemon/model/effects.hpp"

namespace ingle {

struct PastTransition {  // one AlarmChanged of the record
    Instant at{};
    Transition transition{};
    std::int64_t id = 0;
    std::string alarm, subject;  // names
    Priority priority{};
    int spells = 1;  // folded into this alarm so far
};

struct Spell {
    Instant from{};
    std::optional<Instant> to;  // empty: still so at the end of the span
};

struct StandingAlarm {
    std::string alarm, subject;
    Instant since{};
    Span length{};
    bool still = false;
};

struct Nuisance {
    std::string alarm, subject;
    std::string why;  // "chattering", "fleeting", "coming back"
    int raised = 0;   // how often, folded spells included
    // The smallest usual setting that would have prevented it, and how many of its messages.
    std::optional<Span> on_delay, off_delay;
    int prevented = 0;
    std::vector<Spell> spells;  // for deadband_to_join
};

struct AlarmReport {
    Span span{};
    int raised = 0;
    std::array<int, 3> by_priority{};  // low, medium, high
    double per_hour = 0;
    int peak_in_10_min = 0;
    std::optional<Instant> peak_at;  // begin of those 10 minutes
    int chattering = 0;              // alarms that came three times within a minute, or were folded as often
    int stale = 0;                   // standing longer than 24 h
    std::vector<StandingAlarm> longest;  // at most 5, longest first
    std::optional<double> acknowledged;  // share of the raised ones, 0..1; empty if none was raised
    std::optional<Span> median_to_acknowledge;
    std::vector<Nuisance> nuisances;  // worst first
};

// `past` in time order; may begin before `from`, which only tells what was already standing then.
AlarmReport report_on(std::span<PastTransition const> past, Instant from, Instant to);

// The deadband, K, that would have made one spell of these: the furthest that the value came back inside the
// limit between two spells at most 10 minutes apart. 0: nothing to join or no reading between them.
double deadband_to_join(std::span<std::pair<Instant, double> const> readings, std::span<Spell const> spells,
                        double limit);

// The report in sentences, one a line. Lengths and numbers only, no times of day.
std::vector<std::string> in_words(AlarmReport const& report);

}  // namespace ingle
