// The published two-stage cooling rules, and the clock that starts by itself when a cooked core falls through
// the upper limit. Every time is kept as its earliest and latest possible, so that a gap can only make an
// answer less certain. Owned by the ledger; pure; O(1) per step.
#pragma once

#include <array>
#include <cstddef>
#include <limits>
#include <span>
#include <string_view>
#include <vector>

#include "daemon/food/state.hpp"
#include "daemon/food/step.hpp"

namespace ingle {

enum class CoolingAnswer { met, missed, not_applicable, unknown };
std::string_view to_word(CoolingAnswer answer);  // "met", "missed", "not-applicable", "unknown"

struct CoolingStage {
    double from_f = 0, to_f = 0;
    double most_s = 0;        // inclusive
    bool from_start = false;  // counted from the upper limit, not from the end of the stage before
    double from_c() const { return from_fahrenheit(from_f); }
    double to_c() const { return from_fahrenheit(to_f); }
};

struct CoolingRule {
    std::string_view word;                 // in a kitchen file: "food-code"
    std::string_view summary;              // for people
    std::span<CoolingStage const> stages;  // one or two
    double printed_start_c = 0;            // the upper limit as the source prints it in degC: a series that
                                           // begins at it counts as begun at the limit
    std::string_view source;
    double start_c() const { return stages.front().from_c(); }
};

std::span<CoolingRule const> cooling_rules();            // [0] is the default
CoolingRule const* cooling_rule(std::string_view word);  // "fsis" is "fsis-1"; nullptr if there is none

class CoolingClock {
public:
    explicit CoolingClock(CoolingRule const& rule) : rule_(&rule) {}

    void first(double t, double c);
    // `pasteurised`: lethality was reached, so a core that never saw the upper limit is cooked all the same;
    // its clock starts at 130 degF (the Food Code's limit for such roasts).
    void add(Step const& step, bool pasteurised);
    void lose_track();  // an unknown time passed: nothing that still runs can be met any more

    struct StageState {
        CoolingAnswer answer = CoolingAnswer::unknown;  // unknown: still running, or a gap hides it
        bool passed = false;
        double took_least_s = 0, took_most_s = 0;  // if passed; else the time run so far
        double deadline_s = 0;                     // latest moment that is still in time, on the worst case
    };
    // As of `now`; `blind`: no reading since the last step, so that the limit may have been passed unseen.
    StageState stage(std::size_t i, double now, bool blind) const;
    CoolingAnswer answer(double now, bool blind) const;

    bool running() const { return running_; }  // has fallen through the upper limit (last crossing)
    bool under_way() const { return running_ && next_stage() < rule_->stages.size(); }
    bool cooked() const { return cooked_; }  // has been at it
    bool missed_before() const { return missed_before_; }
    // The running or finished cooling: when it started, and the stage that is not passed yet.
    double start_earliest_s() const { return start_early_; }
    double start_latest_s() const { return start_late_; }
    double start_limit_c() const { return start_c_; }
    std::size_t next_stage() const;  // stages.size() = all passed
    CoolingRule const& rule() const { return *rule_; }

    void fields(FieldVisitor& visit);

private:
    static constexpr double never = std::numeric_limits<double>::infinity();
    void start(double early, double late);
    void reset(double now);

    CoolingRule const* rule_;
    bool cooked_ = false, running_ = false;
    bool doubt_ = false;  // a gap may hide a whole cooling, or how it was cooked
    bool missed_before_ = false, began_warm_ = false;
    double first_c_ = 0, last_t_ = 0, last_c_ = 0, start_c_ = 0;
    double start_early_ = 0, start_late_ = 0;
    std::array<double, 2> pass_early_{never, never}, pass_late_{never, never};
};

// For a whole recording: the answer at its end, with the clock to explain it.
struct SeriesCooling {
    CoolingAnswer answer = CoolingAnswer::unknown;
    CoolingClock clock;
    double end_s = 0;
};
SeriesCooling cooling_of(std::span<FoodSample const> series, CoolingRule const& rule);

}  // namespace ingle
