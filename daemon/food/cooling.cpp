#include "daemon/food/cooling.hpp"

#include <algorithm>
#include <array>
#include <cmath>

namespace ingle {
namespace {

constexpr double hour = 3600;
constexpr double clock_rounding_s = 0.05;  // an interpolated crossing is no better

constexpr std::array code_stages{CoolingStage{135, 70, 2 * hour, true},
                                 CoolingStage{135, 41, 6 * hour, true}};
constexpr std::array old_code_stages{CoolingStage{140, 70, 2 * hour, true},
                                     CoolingStage{70, 41, 4 * hour, false}};
constexpr std::array fsis1_stages{CoolingStage{130, 80, 1.5 * hour, true},
                                  CoolingStage{80, 40, 5 * hour, false}};
constexpr std::array fsis2_stages{CoolingStage{120, 55, 6 * hour, true}};
constexpr std::array fsis3_stages{CoolingStage{130, 80, 5 * hour, true},
                                  CoolingStage{80, 45, 10 * hour, false}};

constexpr std::array<CoolingRule, 5> rules{{
    {"food-code", "135 to 70 degF within 2 h, to 41 degF within 6 h in all", code_stages, 57.0,
     "FDA Food Code 3-501.14(A)"},
    {"food-code-140", "140 to 70 degF within 2 h, then to 41 degF within 4 h more", old_code_stages, 60.0,
     "older codes (Maine chapter 346), superseded by 135 degF"},
    {"fsis-1", "130 to 80 degF within 1 h 30 min, then to 40 degF within 5 h more", fsis1_stages, 54.4,
     "USDA FSIS Appendix B (1999), option 1"},
    {"fsis-2", "120 to 55 degF within 6 h; less certain if 120 to 80 degF takes over 1 h; go on to 40 degF",
     fsis2_stages, 48.0, "USDA FSIS Appendix B (1999), option 2"},
    {"fsis-3",
     "cured with at least 100 ppm nitrite: 130 to 80 degF within 5 h, then to 45 degF within 10 h more",
     fsis3_stages, 54.4, "USDA FSIS Appendix B (1999), option 3"},
}};

// A series that begins below the upper limit and above this was cooked before anybody looked.
constexpr double warm_start_c = 30;
// The Food Code holds roasts of 3-401.11(B), cooked at a low temperature, at 130 degF.
constexpr double low_cooked_c = from_fahrenheit(130);

}  // namespace

std::string_view to_word(CoolingAnswer answer) {
    switch (answer) {
        case CoolingAnswer::met:
            return "met";
        case CoolingAnswer::missed:
            return "missed";
        case CoolingAnswer::not_applicable:
            return "not-applicable";
        case CoolingAnswer::unknown:
            break;
    }
    return "unknown";
}

std::span<CoolingRule const> cooling_rules() {
    return rules;
}

CoolingRule const* cooling_rule(std::string_view word) {
    auto const found = std::ranges::find(rules, word == "fsis" ? "fsis-1" : word, &CoolingRule::word);
    return found == rules.end() ? nullptr : &*found;
}

void CoolingClock::start(double early, double late) {
    running_ = true;
    start_early_ = early;
    start_late_ = late;
    pass_early_.fill(never);
    pass_late_.fill(never);
}

// The core is above the limit again: what ran so far is judged and put away; only a miss is kept.
void CoolingClock::reset(double now) {
    if (!running_) return;
    if (answer(now, false) == CoolingAnswer::missed) missed_before_ = true;
    for (std::size_t i = 0; i < rule_->stages.size(); ++i) {
        auto const state = stage(i, now, false);
        if (state.answer == CoolingAnswer::unknown && state.took_most_s > rule_->stages[i].most_s)
            doubt_ = true;
    }
    running_ = false;
}

void CoolingClock::first(double t, double c) {
    first_c_ = last_c_ = c;
    last_t_ = t;
    start_c_ = rule_->start_c();
    if (c >= start_c_ - rounding_k) {
        cooked_ = true;
    } else if (c >= rule_->printed_start_c - rounding_k) {
        cooked_ = true;
        start(t, t);
    } else {
        began_warm_ = c > warm_start_c;
    }
}

void CoolingClock::add(Step const& step, bool pasteurised) {
    last_t_ = step.t1;
    last_c_ = step.c1;
    double const upper = rule_->start_c() - rounding_k;
    bool const was_cooked = cooked_;
    if (!cooked_ && pasteurised && step.c0 >= low_cooked_c) {
        cooked_ = true;
        start_c_ = std::min(low_cooked_c, rule_->start_c());
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
        reset(step.t1);
    } else if (cooked_ && step.c0 >= limit) {
        bool const at_limit = step.c0 <= start_c_;
        start(at_limit ? step.t0 : step.earliest(start_c_),
              at_limit && !step.gap ? step.t0 : step.latest(start_c_));
    } else if (began_warm_ && !cooked_) {
        // Never seen at the limit: it left it at some time before the first reading.
        if (!running_ && step.c1 <= first_c_ - 2) start(-never, step.t0);
        if (running_ && step.c1 >= first_c_ + 3) running_ = false;
    }
    if (!running_) return;
    for (std::size_t i = 0; i < rule_->stages.size(); ++i) {
        double const to = rule_->stages[i].to_c();
        if (pass_late_[i] != never || step.c1 > to + rounding_k) continue;
        pass_early_[i] = step.c0 > to ? step.earliest(to) : step.t0;
        pass_late_[i] = step.c0 > to ? step.latest(to) : step.t0;
    }
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
        state.took_least_s = (blind ? std::min(now, unseen) : now) - from_late;
        state.took_most_s = now - from_early;
    }
    if (state.took_least_s > asked.most_s + clock_rounding_s) state.answer = CoolingAnswer::missed;
    return state;
}

CoolingAnswer CoolingClock::answer(double now, bool blind) const {
    if (missed_before_) return CoolingAnswer::missed;
    if (!running_) {
        bool const may_have_fallen =
            cooked_ && blind && last_c_ - (now - last_t_) * fastest_core_k_per_s < start_c_;
        return doubt_ || may_have_fallen || (began_warm_ && !cooked_) ? CoolingAnswer::unknown
                                                                      : CoolingAnswer::not_applicable;
    }
    bool all_met = true;
    for (std::size_t i = 0; i < rule_->stages.size(); ++i) {
        auto const one = stage(i, now, blind).answer;
        if (one == CoolingAnswer::missed) return one;
        all_met = all_met && one == CoolingAnswer::met;
    }
    return all_met && !doubt_ ? CoolingAnswer::met : CoolingAnswer::unknown;
}

std::size_t CoolingClock::next_stage() const {
    std::size_t i = 0;
    while (i < rule_->stages.size() && pass_late_[i] != never) ++i;
    return i;
}

void CoolingClock::lose_track() {
    if (cooked_ && next_stage() < rule_->stages.size()) doubt_ = true;
}

void CoolingClock::fields(FieldVisitor& visit) {
    for (bool* flag : {&cooked_, &running_, &doubt_, &missed_before_, &began_warm_}) visit.flag(*flag);
    for (double* n : {&first_c_, &last_t_, &last_c_, &start_c_, &start_early_, &start_late_})
        visit.number(*n);
    for (double& n : pass_early_) visit.number(n);
    for (double& n : pass_late_) visit.number(n);
}

SeriesCooling cooling_of(std::span<FoodSample const> series, CoolingRule const& rule) {
    SeriesCooling all{CoolingAnswer::unknown, CoolingClock(rule), 0};
    auto const begin = std::ranges::find_if(series, [](auto const& s) { return s.celsius.has_value(); });
    if (begin == series.end()) return all;
    all.clock.first(begin->t_s, *begin->celsius);
    double last = begin->t_s;
    for (auto const& step : steps_of(series)) {
        all.clock.add(step, false);
        last = step.t1;
    }
    all.end_s = series.back().t_s;
    all.answer = all.clock.answer(all.end_s, all.end_s - last > longest_step_s(series));
    return all;
}

}  // namespace ingle
