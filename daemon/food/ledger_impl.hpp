// The inside of the ledger, shared by its sources: the sums (ledger.cpp), and one file per rule with its
// verdict and its concern (ledger_core, _lethality, _danger, _cooling, _holding), with the worst of all in
// one sentence (ledger_summary) and the hazards (ledger_hazards).
#pragma once

#include <algorithm>
#include <deque>
#include <functional>
#include <optional>
#include <string>
#include <utility>
#include <vector>

#include "daemon/food/core_track.hpp"
#include "daemon/food/hazard_watch.hpp"
#include "daemon/food/hazards.hpp"
#include "daemon/food/ledger.hpp"

namespace ingle {

struct FoodLedger::Impl {
    Impl(LedgerSettings settings, Instant begun);

    LedgerSettings settings;
    FoodClass as_prepared;            // a stand-in without targets where the class is not said
    FoodClass const* food = nullptr;  // that one
    bool food_known = false;
    CoolingRule const* rule = nullptr;
    CoolingRule const* refused_rule = nullptr;  // asked for, and its condition does not hold
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
    // Of each core: since when its readings come and none counts, and when the newest came. s
    struct Refused {
        std::optional<double> since, newest, heard;  // the newest of this run, and of any
        double celsius = 0;                          // of the newest

        // Nothing was read until `t`: that counts for nothing.
        void skip(double t) {
            if (since && heard) *since += t - *heard;
            heard = t;
        }
    };
    std::vector<Refused> refused;
    std::int64_t withdrawn = 0;
    // Of a core whose reading stands: how it was when it first read that, and what was done to it since. Not
    // remembered.
    struct Stand {
        CoreTrack before;
        std::vector<Change> since;
    };
    std::vector<std::optional<Stand>> stands;
    std::function<void(int, JudgedReading const&)> tell;

    void settle(std::size_t core);                         // takes over what has become certain
    FoodPhase phase_at(std::size_t core, double t) const;  // not before its certain readings
    void note_beside(std::size_t core, JudgedReading const& reading);
    void reach(std::size_t core, double t);
    void forget(std::size_t core, double t);
    void note_stand(std::size_t core, JudgedReading const& reading);
    void take_back(std::size_t core, JudgedReading const& reading);
    HazardWatch hazard_watch{0};
    // Of the medium, for dishes without a core and for the cooling forecast.
    Holding medium_hot, medium_cold;
    bool hot_unmeasured = false, cold_unmeasured = false;  // held through a gap of unknown length
    double air_in_zone_s = 0;                              // measured, while nothing heats the food
    Cadence medium_cadence;
    std::optional<double> medium_c;
    double medium_t = 0;
    std::optional<std::pair<double, double>>
        medium_before;           // s and degC of the moment before that; forgotten
    RecentMean medium_mean;      // not remembered: after a restart it starts anew
    bool is_the_liquid = false;  // a stock in its pot: what is around the tip is the food itself

    void reach_time(Instant at) { now = std::max(now, since(at)); }
    double since(Instant at) const { return seconds(at - begun); }
    StepContext context() const;
    double longest_medium_s() const {
        return medium_cadence.longest_s(std::max(seconds(settings.longest_step), 1.0));
    }
    bool fresh_medium() const { return fresh_medium(now); }
    bool fresh_medium(double t) const {
        return medium_c && t - medium_t <= std::max(longest_medium_s(), 300.0);
    }
    // What was around a core at `t`, of an earlier moment: of one moment it does not matter which of the two
    // is told first. Empty: not read lately, or the tip lies in the food itself.
    std::optional<double> around(double t) const;
    // The core that decides: the coldest while it is heated, the warmest otherwise. nullptr: none was ever
    // read.
    CoreTrack const* deciding() const;
    bool unread_core() const;  // a core of the dish was never read
    CoreTrack const* slowest_to_cool() const;
    CoolingAnswer cooling_answer(CoreTrack const& core) const;
    CoolingAnswer cooling_answer() const;  // the worst of all cores
    std::optional<CoolingOutlook> outlook(CoreTrack const& core, double& to_c, double& deadline_s) const;
    CoreTarget const* target() const;  // that the class asks for; nullptr: none
    bool target_met() const;           // the class's, with its hold
    bool stuffing_unread() const;      // the core of the stuffing decides, and has no tip of its own
    bool on_its_way_up(CoreTrack const& core) const;
    std::string asked_words(CoreTarget const& target) const;
    std::string from_above_words() const;
    std::string one_tip_words() const;
    bool may_have_been_hotter(CoreTrack const& core) const;  // than what was seen, by what it takes to kill
    std::string class_asks_more(double reached_c) const;
    CoreTrack const* longest_idle() const;  // in the danger zone, neither heated nor cooled
    bool not_heated_through() const;        // in the danger zone for too long while it was to be heated
    bool discard() const;                   // as measured, a published rule has it thrown away
    double unread_beyond(CoreTrack const& core, Holding const& held, bool hot) const;
    std::string not_read_words() const;  // why no reading of a core counts
    std::string hole_words(Holding const& held) const;
    std::string rule_words() const;
    std::string stage_words(CoreTrack const& core, std::size_t stage) const;
    std::string limit_words(std::size_t stage) const;

    std::string celsius(double c) const { return show(Temperature{c}, settings.units); }
    static std::string span(double s);  // "1 h 05 min"; "an unknown time" if it is not bounded

    Verdict in_short(std::vector<Verdict> const& all) const;  // the worst of them, in one sentence
    Verdict core_target() const;
    Verdict lethality() const;
    std::string come_up_words(CoreTrack const& core) const;
    Verdict danger() const;
    Verdict cooling() const;
    std::optional<Verdict> reheating() const;
    std::optional<Verdict> growth() const;
    std::optional<Verdict> holding(bool hot) const;
    Verdict held_by_air(bool hot) const;
    bool may_not_be_it(CoreTrack const& core) const;
    bool not_seen_to_cool(CoreTrack const& core) const;
    double beside_cold_s() const;  // the most of all cores
    std::string beside_words() const;
    std::optional<Verdict> cold_day() const;
    std::optional<Verdict> trichinella() const;

    bool is_kept_cold() const;  // where a refrigerator's power counts
    // This core was read; `before`: seconds and degC of the reading before, if any.
    // `beside_s`: of the time between, both the tip and what is around the food were read cold.
    void note_hazards(std::size_t core, std::optional<std::pair<double, double>> before, double beside_s);
    void recall_hazards(std::optional<std::string> const& text);  // once `now` is known again
    HazardFacts hazard_facts() const;
    std::vector<Verdict> hazard_rows() const;
    FoodConcern discard_concern() const;

    FoodConcern danger_concern() const;
    FoodConcern air_concern() const;
    FoodConcern heating_concern(CoreTrack const& core, std::optional<double> slope,
                                std::string const& where) const;
    FoodConcern cooling_concern() const;
    FoodConcern cooling_missed(CoreTrack const& core) const;
    FoodConcern hot_concern() const;
    FoodConcern cold_concern() const;
    std::optional<FoodConcern> warm_day_concern(CoreTrack const& core) const;
    FoodConcern reheat_concern() const;
    FoodConcern overshoot_concern() const;
    FoodConcern target_concern() const;
    FoodConcern unread_concern() const;
};

}  // namespace ingle
