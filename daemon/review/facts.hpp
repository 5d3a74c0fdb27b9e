// What a cook came to, as facts that the record itself supports: how it held its band, what went wrong and
// for how long, what was foretold and what came. Pure: the same record gives the same facts; any thread.
#pragma once

#include <optional>
#include <string>
#include <vector>

#include "daemon/review/food_facts.hpp"
#include "daemon/review/record.hpp"

namespace ingle {

// A spell outside the band after it was first reached: between the crossings of straight lines from reading
// to reading. Spells less than a minute apart on the same side are one.
struct Excursion {
    double from = 0, to = 0;
    bool above = false;
    double depth_k = 0;     // furthest beyond the band
    double area_k_min = 0;  // time integral of how far beyond
    bool cut = false;       // begins or ends with a gap: it lasted at least this long
    double seconds() const { return to - from; }
};

struct BandFacts {  // one stretch of a stage in which one band was asked for
    std::size_t stage = 0;
    std::string vessel;
    Band band;
    double from = 0, to = 0;
    std::optional<double> reached_s;  // after `from`; 0 = was inside already; empty = never
    // From when it was reached on: measured, and without readings.
    double in_s = 0, above_s = 0, below_s = 0, without_s = 0;
    std::optional<double> min_c, max_c, mean_c, deviation_k;  // the mean and deviation are over time
    std::vector<Excursion> excursions;
    std::optional<double> share() const {  // of the measured time
        double const all = in_s + above_s + below_s;
        return all > 0 ? std::optional(in_s / all) : std::nullopt;
    }
    std::optional<double> worst_share() const {  // as if it had been outside while nobody looked
        double const all = in_s + above_s + below_s + without_s;
        return all > 0 ? std::optional(in_s / all) : std::nullopt;
    }
};

struct DoorFacts {
    std::string vessel;
    double at = 0;
    double depth_k = 0, open_s = 0;
    std::optional<double> recovery_s;       // from the lowest point until it was back; empty: not seen
    std::optional<double> time_constant_s;  // from the lowest point until 63 % of the depth was regained
};

struct AlarmFacts {
    struct Worse {
        double at = 0;
        std::string priority, text;
    };
    std::int64_t number = 0;
    std::string name, subject, priority, text, acknowledged_by;  // priority: the last; text: at the raise
    double raised = 0;
    std::vector<Worse> worse;
    std::optional<double> acknowledged, cleared;
    std::optional<double> to_acknowledge_s() const {
        return acknowledged ? std::optional(*acknowledged - raised) : std::nullopt;
    }
};

struct GapFacts {
    std::string probe, reason;
    double from = 0, to = 0;
};

struct WarningFacts {  // one early word and what came of it
    std::string name, subject;
    double at = 0;
    std::optional<double> lead_s;  // how long after it the thing came; empty: it did not
};
// What was told when this share of the way to the core's target was behind, beside what came.
struct ScoredForecast {
    double share = 0, told_s = 0,
           left_s = 0;   // told_s: how long it would still take; left_s: how long it took
    double whole_s = 0;  // of the way
    std::optional<double> low_s, high_s;
    double error() const { return (told_s - left_s) / whole_s; }
    std::optional<bool> held() const {
        return low_s && high_s ? std::optional(*low_s <= left_s && left_s <= *high_s) : std::nullopt;
    }
};
struct HeldIntervals {
    int intervals = 0, held = 0;
};
HeldIntervals held_of(std::vector<ScoredForecast> const& scored);
// At 30, 50, 70 and 85 % of the way from `began_s` to `reached_s` (s since the cook began), each by the
// newest of the outlooks that is at most a twentieth of the way old; a share without one is left out.
std::vector<ScoredForecast> score_outlooks(std::vector<CoreOutlook> const& outlooks, double began_s,
                                           double reached_s);

// The told outlooks of one target that was reached: the last of them says that the core is there.
struct WayToTarget {
    double began_s = 0, reached_s = 0;
    std::vector<CoreOutlook> outlooks;
};
// `stages`: when each began; a way begins with its stage, whatever was told in one that was left early.
std::vector<WayToTarget> ways_to_target(std::vector<CoreOutlook> const& told,
                                        std::vector<double> const& stages);

struct ForecastFacts {
    std::vector<WarningFacts> warnings;
    int came = 0, unwarned = 0;   // unwarned: excursions that no early word came before
    std::optional<double> brier;  // of the warnings, each taken as said with 80 %; 0 is best, 0.25 a coin
    // Of the core's target, by how long before it was reached the forecast was made.
    struct Core {
        double lead_s = 0, error_s = 0;  // error: foretold minus what came
        std::optional<double> low_s, high_s;
    };
    std::vector<Core> core;
    std::vector<ScoredForecast> scored;
    double confidence = 0.8;
    std::optional<double> core_reached_s;  // the target, since the cook began; as it was seen
    bool core_came_unseen = false;         // it came to it, and nobody read when
};

struct ResponseFacts {  // how a vessel answers, as far as the record shows
    std::string vessel;
    std::optional<double> warm_from_c, warm_to_c, warm_s, rate_k_per_min;  // on the way to its band
    std::optional<double> lag_s;     // from the stage's begin until it had moved by 1 K
    std::optional<double> settle_s;  // from first reaching the band until it stayed (over 15 min) inside
    std::optional<double> swing_k, period_s;  // while inside: 5th to 95th percentile, and how often it swings
    std::optional<double> recovery_s, time_constant_s;  // medians of its openings
};

struct CookFacts {
    std::vector<BandFacts> bands;
    std::vector<DoorFacts> doors;
    std::vector<AlarmFacts> alarms;
    std::vector<GapFacts> gaps;
    ForecastFacts forecasts;
    std::vector<ResponseFacts> responses;
    FoodFacts food;
    std::vector<std::string> next_time;  // sentences, each a computed fact
};

CookFacts facts_of(CookRecord const& record);

// The parts, for tests.
std::vector<BandFacts> band_facts(CookRecord const& record);
std::vector<DoorFacts> door_facts(CookRecord const& record);
std::vector<AlarmFacts> alarm_facts(CookRecord const& record);
std::vector<GapFacts> gap_facts(CookRecord const& record);
// Seconds without a reading of at least one probe: gaps that overlap count once. In order of their begin.
double blind_s(std::vector<GapFacts> const& gaps);
// `cores`: the readings that count; `class_target_c`: for a cook whose stages name no target.
ForecastFacts forecast_facts(CookRecord const& record, std::vector<BandFacts> const& bands,
                             std::vector<CookSeries> const& cores, std::optional<double> class_target_c);
std::vector<ResponseFacts> response_facts(CookRecord const& record, CookFacts const& facts);
std::vector<std::string> next_time(CookRecord const& record, CookFacts const& facts);

}  // namespace ingle
