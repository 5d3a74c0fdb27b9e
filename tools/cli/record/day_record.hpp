// What the logbook has of one day of a kitchen, for the record that is kept of it. Only what was measured
// and noted: what is not there stays empty. Reads only.
#pragma once

#include <optional>
#include <string>
#include <vector>

#include "tools/cli/past/book.hpp"

namespace ingle::cli {

struct KitchenDay {
    WallSpan span;      // from midnight to midnight on the kitchen's clock: 23 or 25 h where that is changed
    WallTime until{};   // as far as it has come: of a day that is over, its end
    std::string title;  // "Sat 2026-11-28"
    bool over() const { return until >= span.to; }
};
// "today", "yesterday", "nov 25", "mon", "2026-11-28"; of a moment, its day. Throws Failure (wrong usage)
// with a sentence where the words mean no day, or one that is still to come.
KitchenDay kitchen_day(std::string const& text, WallTime now);

struct Measured {
    WallTime at{};
    double celsius = 0;
};

// Of each core of a dish that was cooked or reheated on the day; once, without a probe, of a dish without.
struct CookingEntry {
    std::string dish, food, probe;
    std::int64_t cook = 0;
    WallTime began{};
    bool clock_certain = true;
    std::optional<WallTime> ended;    // on the day or before
    std::optional<Measured> highest;  // on the day, of the readings that count as the core's own
    std::optional<double> asked_c, asked_hold_s;
    std::optional<WallTime> reached;
    bool reached_seen = true;  // false: it was there already at that reading
    std::string answer, rule;  // "" = not known on that day
};
struct CoolingStep {
    double limit_c = 0;
    std::optional<WallTime> at;
    std::optional<double> took_least_s, took_most_s;  // took_most_s empty: it may have begun at any time
    std::optional<double> allowed_s;
    std::string answer;
};
struct CoolingEntry {
    std::string dish, probe, rule;
    std::int64_t cook = 0;
    std::optional<double> from_c;
    std::optional<WallTime> from;
    std::vector<CoolingStep> steps;
};
// Of the air or liquid of a vessel, or of a core of a dish that was held.
struct HoldingEntry {
    bool hot = false, dish = false;
    std::string name, probe;
    std::optional<std::int64_t> cook;
    double limit_c = 0;
    std::optional<Measured> lowest, highest;
    double held_s = 0;                         // on the day
    std::optional<double> beyond_s, unread_s;  // empty: never read
};
struct ProbeHole {
    std::string probe, reason;
    WallTime from{}, to{};
};
struct CalibrationEntry {
    std::string probe;
    WallTime since{};
    std::vector<std::pair<double, double>> points;  // reads, is; degC. Empty: taken away
};
struct ActionEntry {  // an alarm, and what was done about it
    struct Act {
        std::string what, by;
        WallTime at{};
    };
    std::int64_t alarm = 0;
    std::string name, subject, priority, text;
    WallTime raised{};
    std::optional<WallTime> cleared;  // by the day's end
    std::vector<Act> acts;
};
struct NoteEntry {
    WallTime at{};
    std::string subject, text;
};

struct DayRecord {
    std::string kitchen;
    TemperatureUnit units{};
    KitchenDay day;
    std::size_t readings = 0;  // of the probes that something was judged by
    std::vector<CookingEntry> cooking;
    std::vector<CoolingEntry> cooling;
    std::vector<HoldingEntry> holding;
    std::vector<CalibrationEntry> calibrations;
    std::vector<ActionEntry> actions;
    std::vector<NoteEntry> notes;
    std::vector<ProbeHole> holes;
};

// Throws Failure as Book does.
DayRecord day_record(Book& book, KitchenDay const& day);

}  // namespace ingle::cli
