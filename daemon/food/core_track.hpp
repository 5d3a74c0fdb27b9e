// All that is summed up along one core of a dish. Owned by the ledger; pure; O(1) per reading.
#pragma once

#include <array>
#include <optional>

#include "daemon/food/cooling.hpp"
#include "daemon/food/danger_zone.hpp"
#include "daemon/food/growth.hpp"
#include "daemon/food/holding.hpp"
#include "daemon/food/ledger.hpp"
#include "daemon/food/lethality.hpp"
#include "daemon/food/outlook.hpp"
#include "daemon/food/reheating.hpp"

namespace ingle {

// Where nothing shows that a tip is in a body, it must have been seen to come up by this much: air that is
// kept near a target passes it to and fro.
constexpr double seen_to_rise_k = 10;

// What holds for the step that a reading ends.
struct StepContext {
    double longest_s = 60;  // further apart is a gap
    double fastest = fastest_core_k_per_s;
    FoodPhase phase = FoodPhase::waiting;
    std::optional<double> stage_target_c;
    bool cooked_before = false;  // the dish is of a class that was cooked before it was begun
    bool hot_room = false;       // the air around food that waits is above 90 degF
    bool bare = false;           // the tip moves as air does: nothing good may be told by it
    bool in_a_body = true;       // something shows that the tip is: not air that happens to come to a target
};

// What is read at this rhythm is read without a gap. Learnt from the last intervals between a probe's
// readings, so that one reading a minute (or five) is no row of gaps; a probe that fails often does not make
// its own gaps usual, since it is believed to be no slower than once in 5 min.
class Cadence {
public:
    void add(double interval_s);
    // Readings further apart than this leave a gap; at least `least_s`.
    double longest_s(double least_s) const;
    void fields(FieldVisitor& visit);

private:
    std::array<double, 9> last_{};
    double count_ = 0;
};

class CoreTrack {
public:
    CoreTrack(FoodClass const& food, CoolingRule const& rule);

    void take(double t, double c, StepContext const& context);
    void phase(double t, FoodPhase phase);  // a stage began
    // Does not count, since it is as cold as what is around the food; neither was warmer than this.
    void beside_cold(double t, double highest_c);
    // Unread, and both the tip and what is around the food were read cold. s; the coldest bound, degC
    double beside_cold_s() const { return beside_s_; }
    double beside_cold_c() const { return beside_most_; }
    void break_here() { broken_ = true; }  // whatever comes next is after a gap
    // The newest readings, which count unless what follows contradicts them; empty: those that come now do
    // not count, so it is not read at present.
    struct Heard {
        double t = 0, lowest_c = 0, highest_c = 0;  // s, degC
    };
    void heard(std::optional<Heard> newest);
    void void_heating();  // what was read so far was not the centre
    void lose_track();    // after a gap of unknown length

    bool seen() const { return seen_; }
    double last_t() const { return t_; }
    double last_c() const { return c_; }
    double peak_c() const { return peak_; }
    double peak_possible_c(double now, StepContext const& context) const;  // with what was not read
    double gap_s(double now, StepContext const& context) const;
    bool blind(double now, StepContext const& context) const;  // no reading lately, or ever
    double longest_s(StepContext const& context) const { return cadence_.longest_s(context.longest_s); }
    CoolingAnswer cooling_answer(double now, StepContext const& context) const;
    bool begins_to_fall() const;  // by readings that are not certain yet
    bool may_have_risen(double now, StepContext const& context) const;  // unseen, before it was cold for good
    bool bare() const { return bare_; }
    bool was_hot() const { return peak_ >= from_fahrenheit(135); }
    // Since it is heated for the last time: a reheating is not the first cooking.
    double passage_peak_c() const { return reheating.ever() ? reheating.peak_c() : peak_; }
    // The step that a blind time up to `now` may have been, at its worst for what lies between the limits.
    Step unseen(double now, double low_c, double high_c, StepContext const& context) const;
    // With the newest readings, which count unless what follows contradicts them.
    double danger_measured_s(double now, StepContext const& context) const;
    double danger_possible_s(double now, StepContext const& context) const;

    // Seconds at or above the class's default target (0 without one), and at or above the stage's own.
    double at_class_target_s() const { return class_target_s_; }
    // It fell through the cooling rule's upper limit and has not come to the class's target again.
    bool fell_since_target() const { return fell_since_target_; }
    bool at_stage_target(double target_c) const { return stage_peak_ >= target_c - rounding_k; }
    // Where nothing shows that it is in a body, what was above the target from the first on has not come to
    // it.
    bool came_to(double target_c) const { return in_a_body_ || lowest_ < target_c - seen_to_rise_k; }

    // A core that was never seen below the danger zone's upper limit did not come through it before anybody's
    // eyes: heated from its begin on, it may be the medium, and the food may have been in the zone all along.
    bool came_through_unseen() const;
    // A core that was never seen below the class's target is not seen to reach it: it may be the medium.
    bool began_below_target() const;
    // It was above that before it was first below: what it had come to by then is not known.
    bool came_from_above() const { return from_above_ && !reheating.ever(); }

    Lethality lethality;
    DangerZone danger;
    CoolingClock cooling;
    GrowthBound growth;
    Reheating reheating;
    Holding hot, cold;
    RecentSlope recent;  // not remembered: after a restart it starts anew

    void fields(FieldVisitor& visit);

private:
    void add(Step step, StepContext const& context);
    Care care(double t, FoodPhase phase) const;
    void begin_unread(double t, double c, StepContext const& context);
    void over_a_gap(Step const& step, StepContext const& context);
    double newest_s(double now, StepContext const& context) const;
    double unseen_cap_c(StepContext const& context) const;
    void warm_up(Step const& step, StepContext const& context);

    FoodClass const* food_;
    Cadence cadence_;
    bool seen_ = false, broken_ = false, lost_ = false, first_again_ = false;
    bool away_ = false, fell_since_target_ = false;
    bool from_above_ = false;
    bool begun_in_heat_ = false;  // its first reading came while it was cooked
    bool in_a_body_ = false, bare_ = false;
    double heard_t_ = 0, lowest_ = 1000;
    double heard_low_ = 1000, heard_high_ = -1000;  // not remembered
    double phase_since_ = 0;
    // Since the newest reading that counts: from when on, until when, and how warm at most.
    double beside_from_ = 0, beside_until_ = -1, beside_cap_ = 0;
    double beside_s_ = 0, beside_most_ = -1000;
    double t_ = 0, c_ = 0, peak_ = -1000, peak_possible_ = -1000, stage_peak_ = -1000, gap_s_ = 0,
           class_target_s_ = 0;
};

// A core of this thickness cannot move faster than this, K/s: the steepest of the sphere's series solution,
// 5.9 a dT / R^2, with a = 1.5e-7 m2/s and the largest difference that the phase allows: what is moist within
// food is never warmer than boiling water, whatever is around it.
double fastest_core(std::optional<Length> thickness, FoodPhase phase);

}  // namespace ingle
