// One cook as it was recorded, gathered by whoever reads the logbook, for the facts of its review. Plain
// values; times in seconds since the cook began, temperatures in degC.
#pragma once

#include <optional>
#include <string>
#include <utility>
#include <vector>

#include "config/settings.hpp"
#include "drivers/reading/clock.hpp"

namespace ingle {

struct CookSample {
    double t = 0, celsius = 0;
    bool doubtful = false;
    bool after_move = false;  // readings before it were not the core's: a gap lies there
    bool new_place = false;   // the tip was not in the middle before: no heat counts that was read there
};
struct CookFault {
    double from = 0, to = 0;
    std::string reason;
};
struct EarlierProbe {
    std::string probe;
    double until = 0;
};
struct CookSeries {  // accepted readings in order; what was rejected is left out
    std::string probe;
    // Of a core: other probes that the kitchen file gave its place before, and until when they had it.
    std::vector<EarlierProbe> earlier;
    double every_s = 1;
    std::vector<CookSample> samples;
    std::vector<CookFault> faults;
    // Further apart than this, two readings leave a gap between them: three turns, at least a minute.
    double longest_step_s() const { return 3 * (every_s > 20 ? every_s : 20); }
};

struct BandChange {
    double t = 0;
    std::optional<Band> band;
};
struct CookVessel {
    std::string name;
    VesselKind kind = VesselKind::pot;
    std::optional<Band> standing;     // of the kitchen file
    std::vector<BandChange> changes;  // what people held it at, in order
    CookSeries medium;
};

struct CookStage {
    std::string name;
    std::optional<Does> does;  // empty = not said by the plan, or there was none
    int vessel = -1;           // of CookRecord::vessels
    double began = 0, ended = 0;
    bool over = false;
    bool waits = false;       // over, and the dish stays where it is until somebody moves it
    bool left_early = false;  // over before what it waited for had come
    std::optional<Band> band;
    std::optional<double> until_core_c, until_s, until_log10, at_least_s, at_most_s, core_most_c;
    bool counts_from_begin = false;   // its time; else from the moment that its band was reached
    std::optional<double> counted_s;  // of until_s, once it is over
};

struct CookEvent {
    double t = 0;
    std::string name, subject, text;
    std::vector<std::pair<std::string, double>> numbers;
    std::optional<double> number(std::string_view key) const {
        for (auto const& [name_of, value] : numbers)
            if (name_of == key) return value;
        return std::nullopt;
    }
};
struct CookAlarmStep {  // one change of one alarm
    double t = 0;
    std::int64_t alarm = 0;
    std::string name, subject, transition, priority, text, by;
};

struct CoreOutlook {  // what was foretold of the core's target, seconds from t
    double t = 0;
    std::optional<double> eta_s, low_s, high_s;
    std::optional<double> low_half_s, high_half_s;
    double confidence = 0.8;
};

struct ToldOverAll {  // what was told of cores, over every cook of a logbook
    int cooks = 0, intervals = 0, held = 0;
};

struct CookRecord {
    std::string kitchen, title;       // title: how the cook was asked for
    bool imported = false;            // a recording that was replayed
    std::vector<std::string> beside;  // how to ask for the other cooks of the same recording
    DishSettings dish;
    std::string cooling_rule = "food-code";  // the kitchen's
    double boiling_c = 100;                  // of water in it
    TemperatureUnit units{};
    WallTime began{};
    bool clock_certain = true;
    double length_s = 0;
    bool over = false;
    std::vector<CookStage> stages;
    std::size_t planned_stages = 0;  // 0 = not recorded
    std::vector<CookVessel> vessels;
    std::vector<CookSeries> cores;      // in the order of the dish's cores
    std::vector<CookEvent> events;      // about the dish, its vessels and probes, and the kitchen
    std::vector<CookAlarmStep> alarms;  // likewise
    std::vector<double> lost_time;      // moments after a gap whose length is not known
    std::vector<CoreOutlook> outlooks;  // as they were told, else recomputed; empty = neither
    std::string outlooks_from;          // which of them, or ""
    ToldOverAll told_over_all;
};

}  // namespace ingle
