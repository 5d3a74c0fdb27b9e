// What is known about the safety of one begun dish: its core temperatures go in, verdicts and concerns come
// out, each with the published rule behind it. Pure and O(1) per reading; owned by daemon/kitchen, one per
// run. It never says "safe": it says what was measured, what may have been, and by whose rule.
#pragma once

#include <functional>
#include <memory>
#include <optional>
#include <string>
#include <string_view>
#include <vector>

#include "config/settings.hpp"
#include "daemon/food/cooling.hpp"
#include "daemon/food/core_evidence.hpp"
#include "daemon/food/phase.hpp"
#include "daemon/model/effects.hpp"
#include "daemon/model/memory.hpp"
#include "daemon/model/view.hpp"
#include "drivers/reading/clock.hpp"

namespace ingle {

enum class Holds { no, yes, unknown };
inline constexpr std::string_view nothing_missed = "no limit passed";  // the answer of all in short

struct LedgerSettings {
    DishSettings dish;                       // class, cooling rule, number of cores
    std::string cooling_rule = "food-code";  // the kitchen's; the dish's own wins
    TemperatureUnit units{};                 // of the sentences
    double boiling_c = 100;                  // of water in this kitchen
    Span longest_step = from_seconds(60);    // good readings further apart than this leave a gap between them
};

// One thing that a watch of the dish may raise an alarm for.
struct FoodConcern {
    std::string_view alarm;  // "danger-zone", "cooling-late", "hot-hold", "cold-hold", "reheat-late",
                             // "overshoot-risk", "core-target", "core-unread", "discard"
    Holds truth = Holds::no;
    std::string text;                  // what was measured, with the rule's source; "" unless `yes`
    double value = 0;                  // degC of the core (or medium) that it is about
    std::optional<Priority> priority;  // will miss: medium; missed: high, which is told anew
    std::string order;                 // what to do, as a sentence; "" = nothing
    Action action = Action::none;      // the way it turns
    bool at_once = false;              // has lasted long enough unseen: no on-delay
};

struct FoodSummary {
    std::optional<double> peak_core_c, core_c;  // of the core that decides; empty = never a reading
    std::optional<double> lethality_log10;      // credited; empty = no model for this food, or no core
    std::string lethality_source, lethality_caution;
    double danger_s = 0, danger_possible_s = 0;  // measured, and measured plus what the gaps allow
    CoolingAnswer cooling = CoolingAnswer::unknown;
    std::optional<double> cooling_started_s;  // seconds ago
    std::optional<double> target_c;  // the class's core target, unless the dish's stage says otherwise
    bool target_met = false;         // reached, and held for as long as the source asks
    double gap_s = 0;                // seconds without a core reading since the dish was begun
};

class FoodLedger {
public:
    FoodLedger(LedgerSettings settings, Instant begun);
    ~FoodLedger();
    FoodLedger(FoodLedger&&) noexcept;
    FoodLedger& operator=(FoodLedger&&) noexcept;

    // A reading of the dish's `core`-th core (0 = DishSettings::core, then more_cores in order), degC after
    // calibration. Rejected and faulty qualities are ignored (they leave a gap). Times must not go back.
    // Only those that core_evidence.hpp takes for the core's own count, and half a minute after them.
    void take(Instant at, int core, double celsius, Quality quality);
    // Of the medium around the dish, degC: bounds what may have happened in a gap, and judges holding where
    // the dish has no core of its own.
    void medium(Instant at, double celsius, Quality quality);
    // The time since the last reading is not known (the board was off and has no clock).
    void gap_of_unknown_length(Instant now);
    // All of them together lie between the newest reading and the next one: their sum is known now.
    void gaps_are_measured();
    // A stage began. `core_limit_c`: its upper limit for the core (overshoot); `core_target_c`: what the plan
    // asks for instead of the class's target.
    void stage(Instant at, FoodPhase phase, std::optional<double> core_target_c = {},
               std::optional<double> core_limit_c = {});
    void put_in(VesselKind where);  // the food is in a vessel of this kind from now on
    // Time passed, with or without readings; all that was read until `heard` was taken.
    void advance(Instant now, Instant heard);
    void advance(Instant now) { advance(now, now); }

    // The newest readings of a core that count; empty while none does. Times are seconds since `begun`.
    std::optional<CoreEvidence::Present> present(int core) const;
    CoreDoubt doubt(int core) const;  // why the newest does not
    // How often it turned out that all that had counted of a core was not the core's.
    std::int64_t withdrawn() const;
    // Tells of every reading what it is taken for, as it becomes certain.
    void on_judged(std::function<void(int core, JudgedReading const&)> tell);

    // As of the latest call above. The first is all of them in short; `nothing_missed` where that is so.
    std::vector<Verdict> verdicts() const;
    std::vector<FoodConcern> concerns() const;  // always all, in a fixed order
    // What the class asks for beyond a plan's target of `reached_c`, as one sentence with its source and a
    // blank before it; "" if nothing.
    std::string class_asks_more(double reached_c) const;
    std::optional<Forecast> cooling_forecast()
        const;  // `what` = "cooling"; the next deadline's limit; subject unset
    FoodSummary summary() const;
    // Credited log10 reduction now, at the core that lags most; for a plan's `until = { lethality = ... }`.
    std::optional<double> lethality_log10() const;

    void remember(Memory& memory, std::string const& prefix) const;
    // After construction with the same settings and before anything else; instants already shifted.
    void recall(Memory const& memory, std::string const& prefix);

private:
    struct Impl;
    std::unique_ptr<Impl> impl_;
};

}  // namespace ingle
