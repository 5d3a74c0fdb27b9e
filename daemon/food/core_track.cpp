#include "daemon/food/core_track.hpp"

#include <algorithm>
#include <cmath>
#include <utility>

namespace ingle {
namespace {

// Where nothing is heated on purpose, not even a hot day brings food above this.
constexpr double unheated_cap_c = 45;
constexpr double unknown_length_s = 10 * 365 * 86400.0;
constexpr double slowest_cadence_s = 300, intervals_in_a_gap = 3;
constexpr double shortest_unread_s = 60;
// Beside the food, a tip that was read cold before and after so short a time was cold between.
constexpr double beside_unread_s = 1800;
// Put to chill without having been hot (made up warm), it is being cooled for this long: what it may take.
constexpr double chilling_lasts_s = made_warm_cold_within_s;
constexpr double still_falling_k_per_s = 1.0 / 3600;  // of a stage of cooling that has no time of its own

bool warms(FoodPhase phase) {
    return is_heated(phase) || phase == FoodPhase::hot_holding;
}

double warm_start_c(StepContext const& context) {
    return is_held_cold(context.phase) ? CoolingClock::raw_warm_start_c : CoolingClock::warm_start_c;
}

}  // namespace

double fastest_core(std::optional<Length> thickness, FoodPhase phase) {
    if (!thickness || thickness->metres <= 0) return fastest_core_k_per_s;
    double const radius = thickness->metres / 2, difference = is_cold_phase(phase) ? 60 : 130;
    return std::min(fastest_core_k_per_s, 5.9 * 1.5e-7 * difference / (radius * radius));
}

void Cadence::add(double interval_s) {
    auto const size = static_cast<double>(last_.size());
    last_[static_cast<std::size_t>(std::fmod(count_, size))] = interval_s;
    // Wraps without losing that it is full.
    count_ = count_ + 1 >= 2 * size ? size : count_ + 1;
}

double Cadence::longest_s(double least_s) const {
    auto const count = std::min(static_cast<std::size_t>(count_), last_.size());
    if (count < 3) return least_s;
    auto sorted = last_;
    auto const middle = sorted.begin() + static_cast<std::ptrdiff_t>(count / 2);
    std::nth_element(sorted.begin(), middle, sorted.begin() + static_cast<std::ptrdiff_t>(count));
    return std::max(least_s, intervals_in_a_gap * std::min(*middle, slowest_cadence_s));
}

void Cadence::fields(FieldVisitor& visit) {
    for (double& interval : last_) visit.number(interval);
    visit.number(count_);
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
    phase_since_ = t;
    if (phase == FoodPhase::reheating && known && !reheating.active() && c_ < reheat_c)
        reheating.begin_with(t, t, c_);
    if (phase == FoodPhase::hot_holding)
        hot.begin(t, known);
    else
        hot.stop();
    // Chilled by its rule to 41 degF, it is on its way to the limit of holding: that is no holding that
    // failed.
    bool const chilled = cold.held() && known && *known > cold.limit_c() - Holding::there_k &&
                         cooling.running() &&
                         *known <= cooling.rule().stages.back().to_c() + Holding::there_k;
    if (is_held_cold(phase))
        cold.begin(t, known, chilled, made_warm_cold_within_s);
    else if (phase == FoodPhase::chilling)
        cold.begin(t, known, true);
    else
        cold.stop();
}

Care CoreTrack::care(double t, FoodPhase phase) const {
    if (phase == FoodPhase::hot_holding) return Care::none;
    if (reheating.active()) return warms(phase) ? Care::heated : Care::none;
    if (cooling.under_way()) {  // late or not: its own rule judges it
        bool const timed = cooling.rule().stages[cooling.next_stage()].most_s < unknown_length_s;
        auto const slope = recent.slope();
        return timed || (slope && *slope < -still_falling_k_per_s) ? Care::cooled : Care::none;
    }
    // Past the rule's last limit it is still on its way to the one of cold holding, unless it is warm again.
    if (cooling.running()) return cooling.warm_now() || cold.reached() ? Care::none : Care::cooled;
    if (phase == FoodPhase::chilling && !cold.reached() && t - phase_since_ <= chilling_lasts_s)
        return Care::cooled;
    return is_heated(phase) ? Care::heated : Care::none;
}

void CoreTrack::lose_track() {
    if (seen_) lost_ = broken_ = true;
}

void CoreTrack::heard(std::optional<Heard> newest) {
    away_ = !newest;
    auto const now = newest.value_or(Heard{heard_t_, 1000, -1000});
    heard_t_ = now.t;
    heard_low_ = now.lowest_c;
    heard_high_ = now.highest_c;
}

bool CoreTrack::begins_to_fall() const {
    return cooling.cooked() && !cooling.running() && heard_low_ < cooling.start_limit_c() - rounding_k;
}

bool CoreTrack::may_have_risen(double now, StepContext const& context) const {
    return cooling.may_have_risen(now, blind(now, context), unseen_cap_c(context));
}

// What its surroundings allow it while it is not read.
double CoreTrack::unseen_cap_c(StepContext const& context) const {
    return is_cold_phase(context.phase) ? std::max(unheated_cap_c, c_) : 1e9;
}

void CoreTrack::void_heating() {
    lethality = Lethality(*food_);
    class_target_s_ = 0;
    peak_ = stage_peak_ = -1000;
    reheating = Reheating();
    lowest_ = 1000;
    from_above_ = false;
    cooling.begin_again();
    first_again_ = true;
    danger.nothing_seen_until(t_);
    recent.clear();
    broken_ = true;
}

bool CoreTrack::began_below_target() const {
    if (food_->targets.empty()) return true;
    return lowest_ < food_->targets.front().celsius() - (in_a_body_ ? rounding_k : seen_to_rise_k);
}

bool CoreTrack::came_through_unseen() const {
    if (!begun_in_heat_ || food_->mixes()) return begun_in_heat_ && !began_below_target();
    return !began_below_target() || lowest_ >= danger.zone().high_c();
}

void CoreTrack::beside_cold(double t, double highest_c) {
    bool const goes_on = beside_until_ >= (seen_ ? t_ : 0) && t - beside_until_ <= beside_unread_s;
    if (!goes_on) beside_from_ = t;
    beside_cap_ = goes_on ? std::max(beside_cap_, highest_c) : highest_c;
    beside_until_ = t;
}

// Of a gap: the part before the tip lay beside the food is bounded by nothing, the rest by what was read.
void CoreTrack::over_a_gap(Step const& step, StepContext const& context) {
    double const longest = longest_s(context);
    if (lost_ || beside_until_ < step.t0 || step.t1 - beside_until_ > longest) return add(step, context);
    Step rest = step;
    if (beside_from_ - step.t0 > longest) {
        Step before = step;
        before.t1 = beside_from_;
        before.c1 = beside_cap_;
        add(before, context);
        rest = {before.t1, beside_cap_, step.t1, step.c1, true};
    }
    beside_s_ += rest.length();
    beside_most_ = std::max(beside_most_, beside_cap_);
    rest.high_cap = std::max({beside_cap_, rest.c0, rest.c1});
    add(rest, context);
}

// Begun, and not read yet: for every rule it may have been as bad as it can be.
void CoreTrack::begin_unread(double t, double c, StepContext const& context) {
    Step before{0, c, t, c, true};
    double const longest = longest_s(context);
    if (beside_until_ >= 0 && beside_from_ <= longest && t - beside_until_ <= longest) {
        before.high_cap = std::max(beside_cap_, c);
        beside_s_ += t;
        beside_most_ = std::max(beside_most_, beside_cap_);
    }
    before.fastest = context.fastest;
    before.from_unknown = true;
    cooling.first(t, c, before, warm_start_c(context));
    peak_possible_ = before.highest_possible();
    lethality.add(before);
    danger.add(before, care(t, context.phase), context.hot_room);
    hot.add(before);
    cold.add(before);
    gap_s_ += t;
}

void CoreTrack::take(double t, double c, StepContext const& context) {
    if (seen_ && t <= t_) return;
    if (!seen_) {
        // Between two readings three intervals are no gap; before the first one nothing was read at all.
        bool const unread = t > std::max(shortest_unread_s, context.longest_s / 2);
        if (unread)
            begin_unread(t, c, context);
        else
            cooling.first(t, c, std::nullopt, warm_start_c(context));
        bool const again =
            context.phase == FoodPhase::reheating || (context.cooked_before && warms(context.phase));
        // What comes hot into a hot box was heated elsewhere.
        double const below = context.phase == FoodPhase::hot_holding ? from_fahrenheit(135) : reheat_c;
        if (again && c < below) reheating.begin_with(unread ? 0 : t, t, c);
        begun_in_heat_ = is_heated(context.phase);
    } else {
        bool const gap = broken_ || t - t_ > longest_s(context) + 1e-6;
        if (!broken_) cadence_.add(t - t_);
        if (gap)
            over_a_gap({t_, c_, t, c, gap}, context);
        else
            add({t_, c_, t, c, gap}, context);
        if (gap) recent.clear();
    }
    recent.add(t, c);
    seen_ = true;
    broken_ = lost_ = false;
    t_ = t;
    c_ = c;
    bool const below_before = began_below_target(), unseen_before = came_through_unseen();
    in_a_body_ = context.in_a_body;
    bare_ = context.bare;
    lowest_ = std::min(lowest_, c);
    if (!below_before && began_below_target()) peak_ = c;
    if (!began_below_target()) from_above_ = true;
    // What was above its target, or the zone, from the first reading on was something hotter than the core.
    if (unseen_before && !came_through_unseen()) danger.nothing_seen_until(t);
    peak_ = std::max(peak_, c);
    stage_peak_ = std::max(stage_peak_, c);
}

void CoreTrack::warm_up(Step const& step, StepContext const& context) {
    bool const was = reheating.active();
    // What was not done when it fell is cooked on; what was done, or kept hot, is heated again.
    bool const done = food_->targets.empty() || peak_ >= food_->targets.front().celsius() - rounding_k ||
                      context.cooked_before || hot.ever() || context.phase == FoodPhase::reheating;
    reheating.add(step, done && cooling.running() && cooling.cooked(), warms(context.phase));
    if (was || !reheating.active()) return;
    class_target_s_ = 0;
    peak_possible_ = -1000;
}

void CoreTrack::add(Step step, StepContext const& context) {
    step.fastest = context.fastest;
    if (step.gap) {
        gap_s_ += step.length();
        if (is_cold_phase(context.phase))
            step.high_cap = std::min(step.high_cap, std::max({unheated_cap_c, step.c0, step.c1}));
    }
    bool const was_running = cooling.running(), was_over = !cooling.under_way();
    auto const credited = lethality.credited_log10();
    Step judged = step;
    if (lost_) {
        judged.t0 = step.t1 - unknown_length_s;
        cooling.lose_track();
    }
    // What fell from where it was hot at its begin was not seen to come there: only what it rises to again.
    bool const falls_from_above =
        came_from_above() && (step.c1 <= step.c0 || lowest_ >= danger.zone().high_c());
    if (began_below_target() && !falls_from_above) lethality.add(judged);
    danger.add(judged, care(step.t1, context.phase), context.hot_room);
    hot.add(judged);
    cold.add(judged);
    warm_up(step, context);
    if (std::exchange(first_again_, false)) {
        Step before{0, step.c1, step.t1, step.c1, true};
        before.from_unknown = true;
        cooling.first(step.t1, step.c1, before, warm_start_c(context));
    } else {
        cooling.add(step, credited && *credited >= food_->target_log10,
                    is_cold_phase(context.phase) ? Warming::none : Warming::heated);
    }
    if (was_running && !cooling.running()) danger.cooling_over(was_over);
    if (cooling.running() && !was_running) growth.clear();
    if (cooling.running()) growth.add(judged);
    if (cooling.running())
        fell_since_target_ = true;
    else if (!food_->targets.empty() && step.c1 >= food_->targets.front().celsius() - rounding_k)
        fell_since_target_ = false;
    auto const asked = food_->targets.empty() ? food_->hot_hold_targets : food_->targets;
    if (!asked.empty() && began_below_target())
        class_target_s_ += seconds_at_or_above(step, asked.front().celsius());
    peak_possible_ = std::max(peak_possible_, step.highest_possible());
}

CoolingAnswer CoreTrack::cooling_answer(double now, StepContext const& context) const {
    if (!seen_) return CoolingAnswer::unknown;
    auto const answer = cooling.answer(now, blind(now, context), unseen_cap_c(context));
    if (answer == CoolingAnswer::not_applicable && begins_to_fall()) return CoolingAnswer::unknown;
    return bare_ && answer != CoolingAnswer::missed ? CoolingAnswer::unknown : answer;
}

double CoreTrack::peak_possible_c(double now, StepContext const& context) const {
    double const known = std::max(peak_possible_, passage_peak_c());
    return blind(now, context) ? std::max(known, c_ + (now - t_) * context.fastest) : known;
}

bool CoreTrack::blind(double now, StepContext const& context) const {
    return !seen_ || lost_ || away_ || now - std::max(t_, heard_t_) > longest_s(context);
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

double CoreTrack::newest_s(double now, StepContext const& context) const {
    bool const inside = danger.zone().low_c() < c_ && c_ < danger.zone().high_c();
    return seen_ && inside && !blind(now, context) ? std::max(0.0, heard_t_ - t_) : 0;
}

double CoreTrack::danger_measured_s(double now, StepContext const& context) const {
    return danger.measured_s() + newest_s(now, context);
}

double CoreTrack::danger_possible_s(double now, StepContext const& context) const {
    if (seen_ && (bare_ || came_through_unseen())) return now;
    double const low = danger.zone().low_c(), high = danger.zone().high_c();
    bool const inside = std::min(c_, heard_low_) < high && std::max(c_, heard_high_) > low;
    bool const newest = seen_ && inside && !blind(now, context);
    double const possible = danger.possible_s() + (newest ? std::max(0.0, heard_t_ - t_) : 0);
    if (!blind(now, context)) return possible;
    // Just inside the limits: at them, the unseen way would have no length.
    return possible + possible_seconds_between(unseen(now, low + 0.01, high - 0.01, context), low, high);
}

void CoreTrack::fields(FieldVisitor& visit) {
    visit.flag(seen_);
    visit.flag(broken_);
    visit.flag(lost_);
    visit.flag(first_again_);
    visit.flag(fell_since_target_);
    visit.flag(begun_in_heat_);
    visit.flag(from_above_);
    visit.flag(in_a_body_);
    visit.flag(bare_);
    for (double* n :
         {&heard_t_, &lowest_, &t_, &c_, &peak_, &peak_possible_, &stage_peak_, &gap_s_, &class_target_s_})
        visit.number(*n);
    for (double* n : {&phase_since_, &beside_from_, &beside_until_, &beside_cap_, &beside_s_, &beside_most_})
        visit.number(*n);
    cadence_.fields(visit);
    reheating.fields(visit);
    lethality.fields(visit);
    danger.fields(visit);
    cooling.fields(visit);
    growth.fields(visit);
    hot.fields(visit);
    cold.fields(visit);
}

}  // namespace ingle
