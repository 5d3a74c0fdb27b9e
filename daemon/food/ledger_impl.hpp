// The inside of the ledger, shared by its three sources: sums (ledger.cpp), sentences (ledger_verdicts.cpp)
// and what the watches need (ledger_concerns.cpp).
#pragma once

#include <deque>
#include <functional>
#include <string>
#include <vector>

#include "daemon/food/core_track.hpp"
#include "daemon/food/ledger.hpp"

namespace ingle {

struct FoodLedger::Impl {
    Impl(LedgerSettings settings, Instant begun);

    LedgerSettings settings;
    FoodClass const* food = nullptr;  // of a stand-in without targets where the class is not said
    bool food_known = false;
    CoolingRule const* rule = nullptr;
    Instant begun{};
    double now = 0;  // s since begun
    FoodPhase phase = FoodPhase::waiting;
    double phase_since = 0;
    bool phase_told = false;
    std::optional<double> stage_target_c, core_limit_c;
    std::vector<CoreTrack> cores;
    std::vector<CoreEvidence> evidence;  // of each of them
    // Readings are certain later than they come; what the food goes through waits for them.
    struct Change {
        double t = 0;
        FoodPhase phase = FoodPhase::waiting;
    };
    std::vector<std::deque<Change>> changes;  // of each core, later than its certain readings
    std::vector<FoodPhase> certain_phase;     // of each core, at its newest certain reading
    std::function<void(int, JudgedReading const&)> tell;

    void settle(std::size_t core);  // takes over what has become certain
    void reach(std::size_t core, double t);
    // Of the medium, for dishes without a core and for the cooling forecast.
    Holding medium_hot, medium_cold;
    std::optional<double> medium_c;
    double medium_t = 0;

    double since(Instant at) const { return seconds(at - begun); }
    StepContext context() const;
    bool fresh_medium() const { return medium_c && now - medium_t <= std::max(context().longest_s, 300.0); }
    // The core that decides: the coldest while it is heated, the warmest otherwise. nullptr: none was ever
    // read.
    CoreTrack const* deciding() const;
    bool unread_core() const;  // a core of the dish was never read
    CoreTrack const* slowest_to_cool() const;
    CoolingAnswer cooling_answer(CoreTrack const& core) const;
    CoolingAnswer cooling_answer() const;  // the worst of all cores
    std::optional<CoolingOutlook> outlook(CoreTrack const& core, double& to_c, double& deadline_s) const;
    bool target_met() const;  // the class's, with its hold

    std::string celsius(double c) const { return show(Temperature{c}, settings.units); }
    static std::string span(double s);  // "1 h 05 min"; "an unknown time" if it is not bounded

    Verdict core_target() const;
    Verdict lethality() const;
    Verdict danger() const;
    Verdict cooling() const;
    std::optional<Verdict> growth() const;
    std::optional<Verdict> holding(bool hot) const;
    std::optional<Verdict> trichinella() const;

    FoodConcern danger_concern() const;
    FoodConcern cooling_concern() const;
    FoodConcern hot_concern() const;
    FoodConcern cold_concern() const;
    FoodConcern overshoot_concern() const;
    FoodConcern target_concern() const;
};

}  // namespace ingle
