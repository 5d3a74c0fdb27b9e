// The published two-stage cooling rules, and the clock that starts by itself when a cooked core falls through
// the upper limit. It is the last passage that is judged: a limit that was passed opens again when the core
// rises over it, and time below the upper limit counts also where the food was warmed again in between. Every
// time is kept as its earliest and latest possible, so that a gap can only make an answer less certain. Owned
// by the ledger; pure; O(1) per step.
#pragma once

#include <array>
#include <cstddef>
#include <limits>
#include <optional>
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
    double most_s = 0;        // inclusive; infinite where the source sets no time
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
    std::optional<CoolingStage> certain{};  // slower than this, the source calls its own rule uncertain
    bool needs_cure = false;                // holds only for food cured with nitrite
    std::string_view replaced{};            // what came after this edition, in one sentence; "" = in force
    double start_c() const { return stages.front().from_c(); }
    double most_s() const;  // from the upper limit to the last one; infinite where a stage has no limit
};

std::span<CoolingRule const> cooling_rules();            // [0] is the default
CoolingRule const* cooling_rule(std::string_view word);  // "fsis" is "fsis-1"; nullptr if there is none

// What is done to the food in a step: only where nothing heats it can a core that rises be a cooling undone.
enum class Warming { none, heated, unknown };

class CoolingClock {
public:
    explicit CoolingClock(CoolingRule const& rule) : rule_(&rule) {}

    // What begins warmer than this, and below the upper limit, may have been cooked before anybody looked:
    // food from the cold is colder, and what was left in a room ends at its temperature. Food that is put to
    // the cold raw may come from a warmer room.
    static constexpr double warm_start_c = 20, raw_warm_start_c = 30;
    // `before`: the time from the begin to this first reading, if that is a gap.
    void first(double t, double c, std::optional<Step> const& before = std::nullopt,
               double warm_from_c = warm_start_c);
    // `pasteurised`: lethality was reached, so a core that never saw the upper limit is cooked all the same;
    // its clock starts at 130 degF (the Food Code's limit for such roasts).
    void add(Step const& step, bool pasteurised, Warming warming = Warming::unknown);
    // What was read so far was not the centre: only a miss is kept, and `first` comes next.
    void begin_again();
    void lose_track();  // an unknown time passed: nothing that still runs can be met any more

    struct StageState {
        CoolingAnswer answer = CoolingAnswer::unknown;  // unknown: still running, or a gap hides it
        bool passed = false;
        double took_least_s = 0, took_most_s = 0;  // if passed; else the time run so far
        double deadline_s = 0;                     // latest moment that is still in time, on the worst case
    };
    // As of `now`; `blind`: no reading since the last step, so that the limit may have been passed unseen.
    StageState stage(std::size_t i, double now, bool blind) const;
    // `high_cap_c`: what the surroundings allow a core at most while it is not read.
    CoolingAnswer answer(double now, bool blind, double high_cap_c = never) const;
    // Not read for so long, before it was cold for good, that a limit may have been passed upwards again and
    // down too late.
    bool may_have_risen(double now, bool blind, double high_cap_c = never) const;
    // The first stage that was missed; stages.size() = none by itself.
    std::size_t missed_stage(double now, bool blind) const;

    bool running() const { return running_; }  // has fallen through the upper limit (last crossing)
    bool under_way() const { return running_ && next_stage() < rule_->stages.size(); }
    bool was_in_time(double now) const;      // came down to its last limit, and may be warm again
    bool in_time(double now) const;          // under way, and what is not passed yet may still be in time
    bool cooked() const { return cooked_; }  // has been at it
    bool missed_before() const { return missed_before_; }
    bool fell_before() const { return fell_before_; }  // through the upper limit, and is above it again
    // Seconds below the upper limit in earlier passages that came to nothing: the food was warmed again
    // without reaching 165 degF, or later than 4 h after it first fell.
    double carried_least_s() const { return carried_least_; }
    double carried_most_s() const { return carried_most_; }
    double warm_again_s() const { return extra_most_; }  // above the last limit again after an hour below it
    bool warm_now() const { return warm_now_; }
    bool unseen() const { return doubt_; }  // it may have been hot, or have cooled, while it was not read
    bool certain() const;                   // as certain as the rule's own source calls it
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
    void reset(Step const& step);
    void pass_again_unseen(Step const& step);
    void pass(Step const& step);
    void reopen(Step const& step, Warming warming);
    void count_reheat(Step const& step);
    CoolingAnswer in_all(double now, bool blind) const;

    CoolingRule const* rule_;
    bool cooked_ = false, running_ = false;
    bool doubt_ = false;  // a gap may hide a whole cooling, or how it was cooked
    bool missed_before_ = false, began_warm_ = false, fell_before_ = false;
    bool closed_ = false;    // below the last limit for an hour, as far as it was read
    bool warm_now_ = false;  // closed, and above the last limit again
    double first_c_ = 0, last_t_ = 0, last_c_ = 0, start_c_ = 0;
    double start_early_ = 0, start_late_ = 0;
    std::array<double, 2> pass_early_{never, never}, pass_late_{never, never};
    double certain_late_ = never;
    double cold_since_ = never, extra_least_ = 0, extra_most_ = 0, rise_peak_ = -1000;
    double carried_least_ = 0, carried_most_ = 0, chain_from_ = never, at_165_s_ = 0;
};

// For a whole recording: the answer at its end, with the clock to explain it.
struct SeriesCooling {
    CoolingAnswer answer = CoolingAnswer::unknown;
    CoolingClock clock;
    double end_s = 0;
};
SeriesCooling cooling_of(std::span<FoodSample const> series, CoolingRule const& rule);

}  // namespace ingle
