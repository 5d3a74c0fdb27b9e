#include "daemon/food/reheating.hpp"

#include <algorithm>
#include <limits>

namespace ingle {
namespace {

// Our judgement: less than this is no reheating but the swing of a pot that is kept, and less than this below
// 135 degF a lid that was open.
constexpr double rise_k = 2, noise_k = 0.5, ends_k = 5;
constexpr double cool_enough_c = from_fahrenheit(135) - 5;

// A hole too short for the core to have come there and back hides nothing.
bool hides_the_target(Step const& step) {
    return step.gap && possible_seconds_between(step, reheat_c, std::numeric_limits<double>::infinity()) > 0;
}

}  // namespace

std::string_view to_word(ReheatAnswer answer) {
    switch (answer) {
        case ReheatAnswer::none:
            return "not-applicable";
        case ReheatAnswer::open:
            return "not reached so far";
        case ReheatAnswer::met:
            return "met";
        case ReheatAnswer::missed:
            return "missed";
        case ReheatAnswer::not_reached:
            return "not reached";
        case ReheatAnswer::unknown:
            break;
    }
    return "unknown";
}

void Reheating::begin_with(double from_s, double t, double c) {
    low_ = c;
    low_t_ = t;
    ever_ = active_ = true;
    from_early_ = from_s;
    from_late_ = t;
    peak_ = c;
    holed_ = t > from_s;
}

void Reheating::start(Step const& step) {
    if (ever_) {
        auto const before = answer(step.t0, false);
        missed_before_ =
            missed_before_ || before == ReheatAnswer::missed || before == ReheatAnswer::not_reached;
    }
    ever_ = active_ = true;
    holed_ = hides_the_target(step);
    peak_ = step.c1;
    at_target_ = reached_ = ended_ = 0;
    bool const from_cold = low_ <= reheat_from_c && step.c1 > reheat_from_c && step.c0 <= reheat_from_c;
    from_early_ = from_cold ? step.earliest(reheat_from_c) : low_t_;
    from_late_ = from_cold ? step.latest(reheat_from_c) : step.gap ? step.t1 : low_t_;
}

void Reheating::finish(double now) {
    active_ = false;
    ended_ = now;
    low_ = 1000;
}

void Reheating::add(Step const& step, bool cooled, bool heated) {
    if (!active_) {
        if (!cooled) {
            low_ = 1000;
            return;
        }
        if (step.c1 <= low_ + noise_k || step.c1 <= reheat_from_c) {
            low_ = std::min(low_, step.c1);
            low_t_ = step.t1;
            return;
        }
        if (!heated || low_ > cool_enough_c || step.c1 < low_ + rise_k) return;
        start(step);
    } else {
        // Still as cold as it began: the time counts from 41 degF on.
        if (!reached() && step.c1 <= reheat_from_c && peak_ <= reheat_from_c)
            from_late_ = from_early_ = step.t1;
        holed_ = holed_ || hides_the_target(step);
    }
    peak_ = std::max(peak_, step.c1);
    at_target_ += seconds_at_or_above(step, reheat_c);
    if (!reached() && at_target_ >= reheat_hold_s) reached_ = step.t1;
    bool const fell = step.c1 < peak_ - ends_k;
    if (fell && (reached() ? step.c1 < from_fahrenheit(135) : true)) finish(step.t1);
}

double Reheating::took_least_s(double now) const {
    return (reached() ? reached_ : ended_ > 0 ? ended_ : now) - from_late_;
}

double Reheating::took_most_s(double now) const {
    return (reached() ? reached_ : ended_ > 0 ? ended_ : now) - from_early_;
}

ReheatAnswer Reheating::answer(double now, bool blind) const {
    if (!ever_) return ReheatAnswer::none;
    if (reached()) {
        if (took_most_s(now) <= reheat_most_s) return ReheatAnswer::met;
        return took_least_s(now) > reheat_most_s ? ReheatAnswer::missed : ReheatAnswer::unknown;
    }
    if (blind || holed_) return ReheatAnswer::unknown;
    if (!active_) return ReheatAnswer::not_reached;
    return took_least_s(now) > reheat_most_s ? ReheatAnswer::missed : ReheatAnswer::open;
}

void Reheating::fields(FieldVisitor& visit) {
    for (bool* flag : {&ever_, &active_, &missed_before_, &holed_}) visit.flag(*flag);
    for (double* n : {&low_, &low_t_, &from_early_, &from_late_, &peak_, &at_target_, &reached_, &ended_})
        visit.number(*n);
}

}  // namespace ingle
