#include "daemon/food/hazard_watch.hpp"

#include <algorithm>

namespace ingle {
namespace {

// FSIS Cooking Guideline 2021: where Staphylococcus aureus grows while food is heated.
constexpr double warm_low_c = from_fahrenheit(50), warm_high_c = from_fahrenheit(130);
constexpr double unknown_length_s = 365 * 86400.0;

}  // namespace

void HazardWatch::core(std::size_t core, Step const& step, double lethal_c) {
    if (core >= warm_.size() || warm_[core].cooked) return;
    auto& warm = warm_[core];
    warm.possible_s += possible_seconds_between(step, warm_low_c, warm_high_c);
    warm.cooked = step.c1 >= lethal_c - rounding_k;
}

void HazardWatch::medium(double celsius) {
    if (in_smoker_) smoker_high_c_ = std::max(celsius, smoker_high_c_.value_or(celsius));
}

void HazardWatch::read(double t, bool cold) {
    double const unmeasured = unread_cold_s_ >= unknown_length_s ? unknown_length_s : 0;
    if (cold) unread_cold_s_ = unmeasured + std::max(unread_cold_s_ - unmeasured, t - last_read_);
    ever_read_ = true;
    last_read_ = std::max(last_read_, t);
}

void HazardWatch::lose_track(bool cold) {
    // Beside what was measured: the unknown may be measured later.
    if (cold && ever_read_ && unread_cold_s_ < unknown_length_s) unread_cold_s_ += unknown_length_s;
}

void HazardWatch::gaps_are_measured() {
    if (unread_cold_s_ >= unknown_length_s) unread_cold_s_ -= unknown_length_s;
}

void HazardWatch::put_in(VesselKind where) {
    in_smoker_ = where == VesselKind::smoker;
    smoked_ = smoked_ || in_smoker_;
}

double HazardWatch::warm_possible_s() const {
    double most = 0;
    for (auto const& warm : warm_) most = std::max(most, warm.possible_s);
    return most;
}

double HazardWatch::unread_cold_s(double now, bool cold) const {
    return std::max(unread_cold_s_, cold && ever_read_ ? now - last_read_ : 0);
}

void HazardWatch::fields(FieldVisitor& visit) {
    for (auto& warm : warm_) {
        visit.number(warm.possible_s);
        visit.flag(warm.cooked);
    }
    for (bool* flag : {&brined_, &smoked_, &in_smoker_, &ever_read_}) visit.flag(*flag);
    bool known = smoker_high_c_.has_value();
    double high = smoker_high_c_.value_or(0);
    visit.flag(known);
    visit.number(high);
    smoker_high_c_ = known ? std::optional(high) : std::nullopt;
    for (double* n : {&last_read_, &unread_cold_s_}) visit.number(*n);
}

}  // namespace ingle
