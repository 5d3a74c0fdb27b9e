#include "daemon/food/core_track.hpp"

#include <algorithm>

namespace ingle {
namespace {

// Where nothing is heated on purpose, not even a hot day brings food above this.
constexpr double unheated_cap_c = 45;
constexpr double unknown_length_s = 10 * 365 * 86400.0;

}  // namespace

double fastest_core(std::optional<Length> thickness, FoodPhase phase) {
    if (!thickness || thickness->metres <= 0) return fastest_core_k_per_s;
    double const radius = thickness->metres / 2, difference = is_cold_phase(phase) ? 60 : 230;
    return std::min(fastest_core_k_per_s, 5.9 * 1.5e-7 * difference / (radius * radius));
}

CoreTrack::CoreTrack(FoodClass const& food, CoolingRule const& rule)
    : lethality(food),
      danger(danger_zones().front()),
      cooling(rule),
      hot(Holding::Side::hot, hot_hold_limits().front().celsius()),
      cold(Holding::Side::cold, cold_hold_limits().front().celsius()),
      food_(&food) {}

void CoreTrack::phase(double t, FoodPhase phase) {
    auto const known = seen_ ? std::optional(c_) : std::nullopt;
    stage_peak_ = -1000;
    if (phase == FoodPhase::hot_holding)
        hot.begin(t, known);
    else
        hot.stop();
    if (is_held_cold(phase))
        cold.begin(t, known);
    else if (phase == FoodPhase::chilling)
        cold.begin(t, known, true);
    else
        cold.stop();
}

Care CoreTrack::care(FoodPhase phase) const {
    if (cooling.under_way() || (phase == FoodPhase::chilling && !cold.reached())) return Care::cooled;
    return is_heated(phase) ? Care::heated : Care::none;
}

void CoreTrack::lose_track() {
    if (seen_) lost_ = broken_ = true;
}

void CoreTrack::void_heating() {
    lethality = Lethality(*food_);
    class_target_s_ = 0;
    peak_ = stage_peak_ = -1000;
    lowest_ = 1000;
    cooling.lose_track();
    recent.clear();
    broken_ = true;
}

bool CoreTrack::began_below_target() const {
    return food_->targets.empty() || lowest_ < food_->targets.front().celsius() - rounding_k;
}

void CoreTrack::take(double t, double c, StepContext const& context) {
    if (seen_ && t <= t_) return;
    if (!seen_) {
        cooling.first(t, c);
        if (t > context.longest_s) {
            // Begun, but not measured yet: it may have been as bad as it can be.
            double const worst = std::clamp(c, danger.zone().low_c() + 1, danger.zone().high_c() - 1);
            danger.add({0, worst, t, c, true}, care(context.phase));
            gap_s_ += t;
        }
    } else {
        bool const gap = broken_ || t - t_ > context.longest_s;
        add({t_, c_, t, c, gap}, context);
        if (gap) recent.clear();
    }
    recent.add(t, c);
    seen_ = true;
    broken_ = lost_ = false;
    t_ = t;
    c_ = c;
    bool const below_before = began_below_target();
    lowest_ = std::min(lowest_, c);
    if (!below_before && began_below_target()) peak_ = c;
    peak_ = std::max(peak_, c);
    stage_peak_ = std::max(stage_peak_, c);
}

void CoreTrack::add(Step step, StepContext const& context) {
    step.fastest = context.fastest;
    if (step.gap) {
        gap_s_ += step.length();
        if (is_cold_phase(context.phase)) step.high_cap = std::max({unheated_cap_c, step.c0, step.c1});
    }
    bool const was_running = cooling.running();
    auto const credited = lethality.credited_log10();
    Step judged = step;
    if (lost_) {
        judged.t0 = step.t1 - unknown_length_s;
        cooling.lose_track();
    }
    if (began_below_target()) lethality.add(judged);
    danger.add(judged, care(context.phase));
    hot.add(judged);
    cold.add(judged);
    cooling.add(step, credited && *credited >= food_->target_log10);
    if (cooling.running() && !was_running) growth.clear();
    if (cooling.running()) growth.add(judged);
    if (!food_->targets.empty() && began_below_target())
        class_target_s_ += seconds_at_or_above(step, food_->targets.front().celsius());
}

bool CoreTrack::blind(double now, StepContext const& context) const {
    return !seen_ || lost_ || now - std::max(t_, heard_t_) > context.longest_s;
}

double CoreTrack::gap_s(double now, StepContext const& context) const {
    return gap_s_ + (blind(now, context) ? now - (seen_ ? t_ : 0) : 0);
}

Step CoreTrack::unseen(double now, double low_c, double high_c, StepContext const& context) const {
    if (!seen_) return {0, (low_c + high_c) / 2, now, (low_c + high_c) / 2, true};
    Step step{lost_ ? now - unknown_length_s : t_, c_, now, std::clamp(c_, low_c, high_c), true};
    step.fastest = context.fastest;
    return step;
}

double CoreTrack::danger_possible_s(double now, StepContext const& context) const {
    double const possible = danger.possible_s();
    if (!blind(now, context)) return possible;
    double const low = danger.zone().low_c(), high = danger.zone().high_c();
    // Just inside the limits: at them, the unseen way would have no length.
    return possible + possible_seconds_between(unseen(now, low + 0.01, high - 0.01, context), low, high);
}

void CoreTrack::fields(FieldVisitor& visit) {
    visit.flag(seen_);
    visit.flag(broken_);
    visit.flag(lost_);
    for (double* n : {&heard_t_, &lowest_, &t_, &c_, &peak_, &stage_peak_, &gap_s_, &class_target_s_})
        visit.number(*n);
    lethality.fields(visit);
    danger.fields(visit);
    cooling.fields(visit);
    growth.fields(visit);
    hot.fields(visit);
    cold.fields(visit);
}

}  // namespace ingle
