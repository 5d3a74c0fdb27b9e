// One run of a dish through the stages of its plan: what began, what must hold for a stage to end, and what
// is foretold. Survives restarts through Memory. Owned by daemon/kitchen, one per dish; pure.
#pragma once

#include <cstdint>
#include <optional>
#include <span>
#include <string>
#include <string_view>
#include <vector>

#include "config/settings.hpp"
#include "daemon/cook/departure.hpp"
#include "daemon/cook/serving.hpp"
#include "daemon/cook/stage_time.hpp"
#include "daemon/food/core_evidence.hpp"
#include "daemon/food/phase.hpp"
#include "daemon/forecast/core_forecast.hpp"
#include "daemon/model/view.hpp"
#include "daemon/watches/watch.hpp"
#include "daemon/watches/words.hpp"

namespace ingle {

struct CookSituation {
    Instant now{};
    // Of each core of the dish, what counts of its readings; times in seconds since the cook began.
    std::vector<std::optional<CoreEvidence::Present>> cores;
    std::int64_t withdrawn = 0;          // how often what had counted of them was not the core's after all
    Signal const* medium = nullptr;      // of the vessel that the stage happens in
    AtBand band = AtBand::none;          // where it is to the stage's band
    std::optional<double> lethality;     // credited log10 so far
    std::optional<double> class_target;  // the food class's core target, degC
    std::optional<double> serving_s;     // until the dish is to be served; empty: not said, or no clock
    std::vector<std::string> const* helps = nullptr;  // where it is late: each tried; nullptr: nothing was
};

struct CookOutput {
    std::vector<Finding> findings;
    std::vector<Event> events;
    std::optional<Forecast> forecast;  // of the core's target
    bool stage_changed = false;
    bool core_withdrawn = false;  // that its core has reached its target is taken back
};

std::span<AlarmType const> cook_alarms();

class Cook {
public:
    Cook(Settings const& settings, int dish);

    // Each answers with a sentence where it is refused, else "".
    std::string begin(Instant at, std::int64_t number, CookOutput& out);
    std::string next(Instant at, CookOutput& out);
    std::string end(Instant at, CookOutput& out);
    void step(CookSituation const& now, CookOutput& out);  // once per second of core time

    bool begun() const { return begun_; }
    std::int64_t number() const { return number_; }
    Instant began_at() const { return began_; }
    Instant stage_began_at() const { return stage_began_; }
    // nullptr: not begun, every stage is done, or this one is over and the next waits for the cook.
    StageSettings const* stage() const;
    // The next stage is in another vessel: the food stays where it is until `next` says that it was moved.
    bool waits_to_be_moved() const { return waits_; }
    StageClock clock() const;
    bool is_late() const { return late_; }  // for its serving time
    bool core_reached() const { return target_ && reached_ && *reached_ >= stage_began_; }
    std::vector<LeftUndone> const& undone() const { return undone_; }
    std::size_t place() const { return stage_; }  // of the stage in the plan, from 0
    // Where that stage of the plan as it was remembered stands now: the plan may have been edited meanwhile.
    // Empty: it does not have that stage any more.
    std::optional<std::size_t> place_now(std::size_t remembered) const;
    std::string_view stage_name() const;
    int vessel() const;       // where the food is now; the last one once all is done
    FoodPhase phase() const;  // what it goes through there
    // The plan itself says what the core must reach, in one of its stages; else the class's target is the
    // food ledger's to tell.
    bool plan_has_target() const { return plan_has_target_; }
    std::optional<double> target() const { return target_; }  // of the core in this stage, degC
    std::optional<double> core() const { return core_; }      // of the probe that decides, if fresh
    std::optional<double> peak() const { return peak_; }

    void remember(Memory& memory, std::string const& prefix) const;
    // A sentence where the plan file was edited meanwhile: what the cook goes on by. Else "".
    std::string recall(Memory const& memory, std::string const& prefix);

private:
    void use(PlanSettings const& plan);
    std::string find_stage(Memory const& memory, std::string const& prefix);
    void open_stage(Instant at, CookOutput& out);
    // `next`: the stage after it, else the one that follows in the plan.
    void close_stage(Instant at, std::string_view why, CookOutput& out, std::optional<std::size_t> next = {});
    // What the stage waits for and was not seen: " before its end: the core was at ..."; "" = nothing.
    std::string left_open() const;
    // What was left undone, by a core that has come to it since.
    void make_good(Instant now, double coldest_c);
    void tell_end(Instant at, std::string_view why, CookOutput& out) const;
    void finish_stage(Instant at, CookOutput& out);  // by itself: it is told
    void begin_waiting_stage(Instant at, CookOutput& out);
    bool has_left(CookSituation const& now);
    void read_cores(CookSituation const& now, CookOutput& out);
    // What was read so far was not the core: neither is what was told by it.
    void forget_core(Instant at, CookOutput& out);
    bool came_from_this_side() const;
    void tell_disagreement(Instant at, double coldest, double warmest, int cold, int warm, bool there,
                           CookOutput& out);
    bool stage_is_over(CookSituation const& now);
    void judge(CookSituation const& now, Truth lateness, CookOutput& out) const;
    LeftOfPlan left(Instant now) const;
    Truth lateness(CookSituation const& now) const;
    Finding late_for_serving(CookSituation const& now, Truth truth) const;
    std::string what_helps(CookSituation const& now) const;
    std::string level_words(Words const& words) const;
    std::string place_words() const;  // the vessel that it is in
    DishEntries entries() const;
    bool is_kept(Instant now);
    void tell_arrival(Instant now, CookOutput& out);
    void foretell(CookSituation const& now, CookOutput& out);
    Event event(Instant at, std::string name, std::string text) const;

    DishSettings dish_;
    Subject subject_;
    std::vector<int> probes_;  // the dish's cores, the first one leading
    std::vector<std::string> probe_names_, vessel_names_;
    std::vector<VesselKind> vessel_kinds_;
    PlanSettings file_plan_;             // that the kitchen file names now: for the next begin
    PlanSettings plan_;                  // that the stages are of, as its file had it
    std::vector<StageSettings> stages_;  // with the vessels they happen in
    TemperatureUnit unit_{};
    bool plan_has_target_ = false;
    std::string plan_note_;  // where the file has another plan now, and what to make of it is not clear

    std::vector<std::optional<std::size_t>>
        moved_;  // as `place_now`; those beyond its end are where they were

    bool begun_ = false;
    std::int64_t number_ = 0;
    Instant began_{}, stage_began_{};
    std::size_t stage_ = 0;  // stages_.size(): every one is done
    bool waits_ = false;     // stage_ is over, and the next one is in another vessel
    Departure departure_;    // from its vessel, while it waits
    StageTime time_;
    std::vector<LeftUndone> undone_;
    std::optional<Instant> made_good_since_;
    int rang_ = 0;  // stages that ended by themselves: the grade of stage-over
    std::string over_text_, ready_text_;
    bool over_can_wait_ = false;  // what over_text_ tells goes on by itself
    std::optional<double> target_, core_, peak_;
    // Coldest and warmest that the deciding core was in this cook: a core that was never seen on this side of
    // its target has not come to it.
    std::optional<double> coldest_seen_, warmest_seen_;
    std::int64_t places_ = 0;            // that its tips were moved to and counted from
    std::int64_t withdrawn_ = 0;         // as in the situation
    std::optional<double> there_since_;  // s since the cook began: the deciding core is at the target since
    Span there_for_{0};
    std::optional<Instant> reached_;  // when that was believed; kept until the next target
    double reached_target_ = 0;
    std::size_t reached_stage_ = 0;
    std::string reached_text_;
    std::string withdrawn_text_;  // that it was taken back
    int withdrawals_ = 0;         // the grade of core-withdrawn
    std::string disagreement_;
    bool told_disagreement_ = false;
    CoreForecast core_forecast_;
    CoreForecast::Answer outlook_;     // as of the newest forecast
    std::optional<Instant> foretold_;  // when that was
    bool foretold_by_core_ = false;    // the core could be read in the second before
    std::optional<Instant> kept_;      // when a forecast was last kept
    bool late_ = false;                // for its serving time, as it is told
    bool kept_estimate_ = false;       // and whether it was one
};

}  // namespace ingle
