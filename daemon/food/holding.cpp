#include "daemon/food/holding.hpp"

#include <algorithm>
#include <cmath>
#include <limits>

namespace ingle {
namespace {

constexpr double endless = std::numeric_limits<double>::infinity();

void visit_optional(FieldVisitor& visit, std::optional<double>& value) {
    bool there = value.has_value();
    double n = value.value_or(0);
    visit.flag(there);
    visit.number(n);
    value = there ? std::optional(n) : std::nullopt;
}

}  // namespace

void Holding::begin(double t, std::optional<double> c, bool from_reached, double most_s) {
    held_ = true;
    ever_ = ever_ || !from_reached;
    way_most_ = most_s;
    way_from_ = from_reached ? c.value_or(limit_c_) : limit_c_;
    began_ = t;
    reached_ = c && !beyond(*c);
    from_reached_ = from_reached && !reached_;
    spell_from_ = c && beyond(*c) ? std::optional(t) : std::nullopt;
    spell_possible_from_ = t;
    hole_ = 0;
}

// Noise about the limit is not yet that it was there for good; that it goes away from it again, or takes too
// long, is judged.
bool Holding::on_its_way(Step const& step) {
    if (!from_reached_) return false;
    double const past = (side_ == Side::hot ? 1 : -1) * (step.c1 - limit_c_);
    if (way_most_ == endless) {
        bool const left_again = reached_ && (past <= -there_k || step.gap);
        if (past >= -rounding_k) reached_ = ever_ = true, spell_from_.reset();
        from_reached_ = !left_again && past < there_k;
        return !left_again;
    }
    bool const there = past >= there_k;
    bool const away = step.t1 - began_ > way_most_ || step.gap ||
                      std::abs(step.c1 - limit_c_) > std::abs(way_from_ - limit_c_) + there_k;
    if (!there && !away) return true;
    from_reached_ = false;
    reached_ = there;
    ever_ = true;
    if (there) spell_from_.reset();
    return there;
}

void Holding::add(Step const& given) {
    if (!held_) return;
    Step step = given;
    // A gap of unknown length goes back as far as it may; it is not held any longer for that.
    if (step.length() < unbounded_s) step.t0 = std::max(step.t0, std::min(began_, step.t1));
    if (on_its_way(step)) return;
    bool const hot = side_ == Side::hot;
    double const low = hot ? -endless : limit_c_ + rounding_k, high = hot ? limit_c_ - rounding_k : endless;
    double const measured = seconds_between(step, low, high);
    double const possible = possible_seconds_between(step, low, high);
    beyond_ += measured;
    beyond_possible_ += possible;
    if (reached_ || step.from_unknown) last_day_.add(step, measured, possible);
    if (!beyond(step.c1)) {
        reached_ = true;
        spell_from_.reset();
        return;
    }
    if (!spell_from_) {
        bool const before = beyond(step.c0) && !step.from_unknown;
        spell_from_ = step.gap ? step.t1 : before ? step.t0 : step.crossing(limit_c_);
        spell_possible_from_ = step.gap ? step.t1 - possible : *spell_from_;
        hole_ = 0;
    }
    if (step.gap) hole_ = std::max(hole_, step.length());
    if (!worst_ || (hot ? step.c1 < *worst_ : step.c1 > *worst_)) worst_ = step.c1;
}

LastDay::Hour& LastDay::at(double t) {
    double const number = std::floor(t / 3600);
    auto& hour = hours_[static_cast<std::size_t>(std::fmod(std::max(0.0, number), 25))];
    if (hour.number != number) hour = {number, 0, 0};
    return hour;
}

void LastDay::add(Step const& step, double measured_s, double possible_s) {
    if (measured_s <= 0 && possible_s <= 0) return;
    double const from = std::max({step.t0, step.t1 - 25 * 3600, 0.0});
    double const length = step.t1 - step.t0;
    if (length <= 0) return;
    for (double t = from; t < step.t1;) {
        double const end = std::min(step.t1, (std::floor(t / 3600) + 1) * 3600);
        double const share = (end - t) / length;
        auto& hour = at(t);
        hour.measured_s += share * measured_s;
        hour.possible_s += share * possible_s;
        t = end;
    }
}

double LastDay::sum(double now, double Hour::*part) const {
    double const first = std::floor(now / 3600) - 24;
    double all = 0;
    for (auto const& hour : hours_)
        if (hour.number >= first) all += hour.*part;
    return all;
}

void LastDay::fields(FieldVisitor& visit) {
    for (auto& hour : hours_)
        for (double* n : {&hour.number, &hour.measured_s, &hour.possible_s}) visit.number(*n);
}

void Holding::fields(FieldVisitor& visit) {
    visit.flag(held_);
    visit.flag(ever_);
    visit.flag(reached_);
    visit.flag(from_reached_);
    for (double* n : {&way_most_, &way_from_, &began_}) visit.number(*n);
    visit.number(beyond_);
    visit.number(beyond_possible_);
    visit.number(spell_possible_from_);
    visit.number(hole_);
    visit_optional(visit, worst_);
    visit_optional(visit, spell_from_);
    last_day_.fields(visit);
}

}  // namespace ingle
