#include "daemon/food/cooling.hpp"

#include <algorithm>
#include <cmath>

namespace ingle {
namespace {

constexpr double clock_rounding_s = 0.05;  // an interpolated crossing is no better
// The Food Code holds roasts of 3-401.11(B), cooked at a low temperature, at 130 degF.
constexpr double low_cooked_c = from_fahrenheit(130);
// A core that rises by more than this over a limit that it had passed is above it again: more than a probe's
// own noise and the swing of a refrigerator.
constexpr double re_rise_k = 1;
// Below the last limit for this long, as far as it was read: the cooling is over. Our judgement.
constexpr double closes_after_s = 3600;
// In the cold nothing warms by this much in a minute: it is the tip that was moved to a warmer place.
constexpr double moved_tip_k_per_s = 1.0 / 60;
// What was not read for no longer than this undoes no limit that it had passed. Our judgement.
constexpr double quiet_gap_s = 1800;
// Between two readings three intervals are no gap; before the first one nothing was read at all.
constexpr double shortest_unread_s = 60;
// FDA Food Code 3-403.11(A), and 3-501.19(B): food that left 135 degF is eaten or thrown away after 4 h.
constexpr double reheated_c = from_fahrenheit(165), reheated_for_s = 15, chain_most_s = 4 * 3600;

}  // namespace

void CoolingClock::start(double early, double late) {
    running_ = true;
    closed_ = warm_now_ = false;
    start_early_ = early;
    start_late_ = late;
    if (carried_most_ == 0) chain_from_ = early;
    pass_early_.fill(never);
    pass_late_.fill(never);
    certain_late_ = cold_since_ = never;
    extra_least_ = extra_most_ = at_165_s_ = 0;
}

// The core is above the limit again. What ran so far is judged and put away: a miss is kept, and so is the
// time of a passage that came to no end.
void CoolingClock::reset(Step const& step) {
    if (!running_) return;
    fell_before_ = true;
    double const now = step.t1;
    if (missed_stage(now, false) < rule_->stages.size() || in_all(now, false) == CoolingAnswer::missed)
        missed_before_ = true;
    for (std::size_t i = 0; i < rule_->stages.size(); ++i) {
        auto const state = stage(i, now, false);
        if (state.answer == CoolingAnswer::unknown && state.took_most_s > rule_->stages[i].most_s)
            doubt_ = true;
    }
    if (closed_) {
        carried_least_ = carried_most_ = 0;
        chain_from_ = never;
    } else {
        carried_least_ += std::max(0.0, step.earliest(start_c_) - start_late_);
        carried_most_ += std::max(0.0, step.latest(start_c_) - start_early_);
    }
    running_ = false;
    at_165_s_ = 0;
}

void CoolingClock::first(double t, double c, std::optional<Step> const& before, double warm_from_c) {
    first_c_ = last_c_ = c;
    last_t_ = t;
    start_c_ = rule_->start_c();
    if (before && before->highest_possible() >= start_c_ - rounding_k) doubt_ = true;
    if (c >= start_c_ - rounding_k) {
        cooked_ = true;
    } else if (c >= rule_->printed_start_c - rounding_k) {
        cooked_ = true;
        start(t, t);
    } else {
        began_warm_ = c > warm_from_c;
    }
}

void CoolingClock::add(Step const& step, bool pasteurised, Warming warming) {
    last_t_ = step.t1;
    last_c_ = step.c1;
    double const upper = rule_->start_c() - rounding_k;
    bool const was_cooked = cooked_;
    if (!cooked_ && pasteurised && step.c0 >= low_cooked_c) {
        cooked_ = true;
        start_c_ = std::min(low_cooked_c, rule_->start_c());
    }
    // The limit as it is printed in degC is a little below the one in degF.
    if (!cooked_ && std::max(step.c0, step.c1) >= rule_->printed_start_c - rounding_k) {
        cooked_ = true;
        start_c_ = std::min(start_c_, rule_->printed_start_c);
    }
    if (std::max(step.c0, step.c1) >= upper) {
        cooked_ = true;
        start_c_ = rule_->start_c();
    }
    double const limit = start_c_ - rounding_k;
    if (step.gap) {
        // Unseen, it may have been cooked, or have cooled for too long and been heated again.
        bool const maybe_cooked = !cooked_ && step.highest_possible() >= limit;
        bool const maybe_cooled =
            was_cooked && step.c1 >= limit &&
            possible_seconds_between(step, -never, limit) > rule_->stages.front().most_s;
        if (maybe_cooked || maybe_cooled) doubt_ = true;
    }
    if (step.c1 >= limit) {
        reset(step);
        count_reheat(step);
    } else if (cooked_ && step.c0 >= limit) {
        bool const at_limit = step.c0 <= start_c_;
        count_reheat(step);
        start(at_limit ? step.t0 : step.earliest(start_c_),
              at_limit && !step.gap ? step.t0 : step.latest(start_c_));
    } else if (began_warm_ && !cooked_) {
        // Never seen at the limit: it left it at some time before the first reading.
        if (!running_ && step.c1 <= first_c_ - 2) start(-never, step.t0);
        if (running_ && step.c1 >= first_c_ + 3) running_ = false;
    }
    if (!running_) return;
    pass_again_unseen(step);
    pass(step);
    reopen(step, warming);
}

// Unseen, it may have risen over a limit that it had passed, and come down again only just now.
void CoolingClock::pass_again_unseen(Step const& step) {
    if (!step.gap || closed_ || step.length() <= quiet_gap_s) return;
    for (std::size_t i = 0; i < rule_->stages.size(); ++i) {
        double const to = rule_->stages[i].to_c();
        if (pass_late_[i] == never || step.c1 > to || step.highest_possible() <= to + re_rise_k) continue;
        pass_late_[i] = std::max(pass_late_[i], step.t1 - (to - step.c1) / step.fastest);
    }
}

// 165 degF for 15 s within 4 h of the first fall is a reheating: what came before no longer counts.
void CoolingClock::count_reheat(Step const& step) {
    at_165_s_ += seconds_at_or_above(step, reheated_c);
    if (at_165_s_ < reheated_for_s || step.t1 - chain_from_ > chain_most_s) return;
    carried_least_ = carried_most_ = 0;
}

void CoolingClock::pass(Step const& step) {
    for (std::size_t i = 0; i < rule_->stages.size(); ++i) {
        double const to = rule_->stages[i].to_c();
        if (pass_late_[i] != never || step.c1 > to + rounding_k) continue;
        pass_early_[i] = step.c0 > to ? step.earliest(to) : step.t0;
        pass_late_[i] = step.c0 > to ? step.latest(to) : step.t0;
    }
    if (rule_->certain && certain_late_ == never && step.c1 <= rule_->certain->to_c() + rounding_k)
        certain_late_ = step.latest(std::min(step.c0, rule_->certain->to_c()));
    double const last_limit = rule_->stages.back().to_c();
    if (step.c1 > last_limit + re_rise_k) {
        cold_since_ = never;
    } else if (step.c1 <= last_limit + rounding_k && next_stage() == rule_->stages.size()) {
        // What was not read closes nothing.
        if (cold_since_ == never || step.gap) cold_since_ = step.t1;
        if (step.t1 - cold_since_ >= closes_after_s) closed_ = true;
    }
}

// The core rose over a limit that it had passed. After an hour in the cold that is food that was warmed: the
// time counts. Before, or where only a moved tip rises so fast, the limit was not passed at all.
void CoolingClock::reopen(Step const& step, Warming warming) {
    double const last_limit = rule_->stages.back().to_c();
    bool const all_passed = next_stage() == rule_->stages.size();
    if (warming == Warming::heated && all_passed) closed_ = true;
    bool const moved =
        warming == Warming::none && step.c1 - step.c0 > moved_tip_k_per_s * step.length() + re_rise_k;
    if (closed_ && !moved) {
        warm_now_ = step.c1 > last_limit + re_rise_k;
        if (!warm_now_) {
            rise_peak_ = -1000;
            return;
        }
        rise_peak_ = std::max(rise_peak_, step.c1);
        bool const being_heated = warming != Warming::none && step.c1 >= rise_peak_ - re_rise_k;
        if (being_heated) return;
        extra_least_ += seconds_between(step, last_limit, never);
        extra_most_ += possible_seconds_between(step, last_limit, never);
        return;
    }
    for (std::size_t i = 0; i < rule_->stages.size(); ++i) {
        if (step.c1 <= rule_->stages[i].to_c() + re_rise_k) continue;
        pass_early_[i] = pass_late_[i] = never;
    }
    if (moved) closed_ = warm_now_ = false;
}

CoolingClock::StageState CoolingClock::stage(std::size_t i, double now, bool blind) const {
    auto const& asked = rule_->stages[i];
    bool const whole = i == 0 || asked.from_start;
    double const from_early = whole ? start_early_ : pass_early_[i - 1];
    double const from_late = whole ? start_late_ : pass_late_[i - 1];
    StageState state;
    if (from_late == never) return state;
    state.deadline_s = from_early + asked.most_s;
    state.passed = pass_late_[i] != never;
    if (state.passed) {
        state.took_least_s = pass_early_[i] - from_late;
        state.took_most_s = pass_late_[i] - from_early;
        if (state.took_most_s <= asked.most_s + clock_rounding_s) state.answer = CoolingAnswer::met;
    } else {
        double const unseen = last_t_ + std::max(0.0, last_c_ - asked.to_c()) / fastest_core_k_per_s;
        // Readings are certain half a minute after they come: until the newest one it was above the limit.
        state.took_least_s = (blind ? std::min(now, unseen) : std::min(now, last_t_)) - from_late;
        state.took_most_s = now - from_early;
    }
    if (state.took_least_s > asked.most_s + clock_rounding_s) state.answer = CoolingAnswer::missed;
    return state;
}

std::size_t CoolingClock::missed_stage(double now, bool blind) const {
    std::size_t i = 0;
    while (running_ && i < rule_->stages.size() && stage(i, now, blind).answer != CoolingAnswer::missed) ++i;
    return running_ ? i : rule_->stages.size();
}

bool CoolingClock::in_time(double now) const {
    if (!under_way()) return false;
    auto const deadline = stage(next_stage(), now, false).deadline_s;
    return now <= deadline && in_all(now, false) != CoolingAnswer::missed;
}

bool CoolingClock::was_in_time(double now) const {
    if (!running_ || under_way() || missed_before_) return false;
    for (std::size_t i = 0; i < rule_->stages.size(); ++i)
        if (stage(i, now, false).answer != CoolingAnswer::met) return false;
    return true;
}

bool CoolingClock::certain() const {
    if (!rule_->certain) return true;
    return certain_late_ - start_early_ <= rule_->certain->most_s + clock_rounding_s;
}

// By all the time since it first fell, whatever was done in between: `met` = nothing against it.
CoolingAnswer CoolingClock::in_all(double now, bool blind) const {
    double const most = rule_->most_s();
    if (carried_most_ == 0 && extra_most_ == 0) return CoolingAnswer::met;
    auto const last = stage(rule_->stages.size() - 1, now, blind);
    double const newest = blind ? now : std::min(now, last_t_);
    double const least = (last.passed ? pass_early_.at(rule_->stages.size() - 1) : newest) - start_late_;
    double const longest = (last.passed ? pass_late_.at(rule_->stages.size() - 1) : now) - start_early_;
    if (!blind && carried_least_ + least + extra_least_ > most + clock_rounding_s)
        return CoolingAnswer::missed;
    if (carried_most_ + longest + extra_most_ > most + clock_rounding_s) return CoolingAnswer::unknown;
    auto const first = stage(0, now, blind);
    bool const first_in_time = carried_most_ + first.took_most_s <= rule_->stages.front().most_s;
    return carried_most_ > 0 && !first_in_time ? CoolingAnswer::unknown : CoolingAnswer::met;
}

bool CoolingClock::may_have_risen(double now, bool blind, double high_cap_c) const {
    if (!running_ || !blind || closed_ || now - last_t_ <= quiet_gap_s) return false;
    double const highest = std::min(last_c_ + (now - last_t_) * fastest_core_k_per_s, high_cap_c);
    for (std::size_t i = 0; i < rule_->stages.size(); ++i) {
        auto const& asked = rule_->stages[i];
        double const from = i == 0 || asked.from_start ? start_early_ : pass_early_[i - 1];
        bool const passed = pass_late_[i] != never;
        if (passed && highest > asked.to_c() + re_rise_k && now - from > asked.most_s) return true;
    }
    return false;
}

CoolingAnswer CoolingClock::answer(double now, bool blind, double high_cap_c) const {
    if (missed_before_) return CoolingAnswer::missed;
    if (!running_) {
        double const way = (now - last_t_) * fastest_core_k_per_s;
        bool const may_have_fallen = cooked_ && blind && last_c_ - way < start_c_;
        bool const may_have_risen = !cooked_ && blind && std::min(last_c_ + way, high_cap_c) >= start_c_;
        return doubt_ || may_have_fallen || may_have_risen || (began_warm_ && !cooked_)
                   ? CoolingAnswer::unknown
                   : CoolingAnswer::not_applicable;
    }
    if (missed_stage(now, blind) < rule_->stages.size()) return CoolingAnswer::missed;
    auto const all = in_all(now, blind);
    if (all == CoolingAnswer::missed) return all;
    bool sure = all == CoolingAnswer::met && !doubt_ && !warm_now_ && certain() &&
                !may_have_risen(now, blind, high_cap_c);
    for (std::size_t i = 0; i < rule_->stages.size(); ++i)
        sure = sure && stage(i, now, blind).answer == CoolingAnswer::met;
    return sure ? CoolingAnswer::met : CoolingAnswer::unknown;
}

std::size_t CoolingClock::next_stage() const {
    std::size_t i = 0;
    while (i < rule_->stages.size() && pass_late_[i] != never) ++i;
    return i;
}

void CoolingClock::begin_again() {
    bool const missed = answer(last_t_, false) == CoolingAnswer::missed;
    *this = CoolingClock(*rule_);
    missed_before_ = missed;
}

void CoolingClock::lose_track() {
    if (cooked_ && next_stage() < rule_->stages.size()) doubt_ = true;
}

void CoolingClock::fields(FieldVisitor& visit) {
    for (bool* flag :
         {&cooked_, &running_, &doubt_, &missed_before_, &began_warm_, &closed_, &warm_now_, &fell_before_})
        visit.flag(*flag);
    for (double* n : {&first_c_, &last_t_, &last_c_, &start_c_, &start_early_, &start_late_, &certain_late_,
                      &cold_since_, &extra_least_, &extra_most_, &rise_peak_, &carried_least_, &carried_most_,
                      &chain_from_, &at_165_s_})
        visit.number(*n);
    for (double& n : pass_early_) visit.number(n);
    for (double& n : pass_late_) visit.number(n);
}

SeriesCooling cooling_of(std::span<FoodSample const> series, CoolingRule const& rule) {
    SeriesCooling all{CoolingAnswer::unknown, CoolingClock(rule), 0};
    auto const begin = std::ranges::find_if(series, [](auto const& s) { return s.celsius.has_value(); });
    if (begin == series.end()) return all;
    double const longest = longest_step_s(series);
    std::optional<Step> before;
    if (begin->t_s - series.front().t_s > std::max(shortest_unread_s, longest / 2)) {
        before = Step{series.front().t_s, *begin->celsius, begin->t_s, *begin->celsius, true};
        before->from_unknown = true;
    }
    all.clock.first(begin->t_s, *begin->celsius, before);
    double last = begin->t_s;
    for (auto const& step : steps_of(series)) {
        all.clock.add(step, false);
        last = step.t1;
    }
    all.end_s = series.back().t_s;
    all.answer = all.clock.answer(all.end_s, all.end_s - last > longest);
    return all;
}

}  // namespace ingle
