#include "daemon/food/holding.hpp"

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

void Holding::begin(double t, std::optional<double> c, bool from_reached) {
    held_ = true;
    ever_ = ever_ || !from_reached;
    from_reached_ = from_reached;
    began_ = t;
    reached_ = c && !beyond(*c);
    spell_from_ = c && beyond(*c) ? std::optional(t) : std::nullopt;
}

void Holding::add(Step const& step) {
    if (!held_) return;
    if (from_reached_ && !reached_) {
        reached_ = !beyond(step.c1);
        ever_ = ever_ || reached_;
        return;
    }
    bool const hot = side_ == Side::hot;
    double const low = hot ? -endless : limit_c_ + rounding_k, high = hot ? limit_c_ - rounding_k : endless;
    beyond_ += seconds_between(step, low, high);
    beyond_possible_ += possible_seconds_between(step, low, high);
    if (!beyond(step.c1)) {
        reached_ = true;
        spell_from_.reset();
        return;
    }
    if (!spell_from_) spell_from_ = beyond(step.c0) ? step.t0 : step.gap ? step.t1 : step.crossing(limit_c_);
    if (!worst_ || (hot ? step.c1 < *worst_ : step.c1 > *worst_)) worst_ = step.c1;
}

void Holding::fields(FieldVisitor& visit) {
    visit.flag(held_);
    visit.flag(ever_);
    visit.flag(reached_);
    visit.flag(from_reached_);
    visit.number(began_);
    visit.number(beyond_);
    visit.number(beyond_possible_);
    visit_optional(visit, worst_);
    visit_optional(visit, spell_from_);
}

}  // namespace ingle
