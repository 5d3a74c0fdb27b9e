// Hot or cold holding, by the hour or over days: how long beyond the limit, measured and possible apart, and
// how far. Owned by the ledger (a core) or by whoever looks after a vessel (its medium); pure.
#pragma once

#include <array>
#include <limits>
#include <optional>

#include "daemon/food/state.hpp"
#include "daemon/food/step.hpp"

namespace ingle {

// Seconds beyond a limit within the last 24 h, by the hour: what is older falls out an hour late at most, so
// that nothing is told too small.
class LastDay {
public:
    void add(Step const& step, double measured_s, double possible_s);
    double measured_s(double now) const { return sum(now, &Hour::measured_s); }
    double possible_s(double now) const { return sum(now, &Hour::possible_s); }
    void fields(FieldVisitor& visit);

private:
    struct Hour {
        double number = -1, measured_s = 0, possible_s = 0;
    };
    double sum(double now, double Hour::*part) const;
    Hour& at(double t);
    std::array<Hour, 25> hours_{};
};

class Holding {
public:
    static constexpr double there_k = 0.3;  // what noise about the limit may be; our judgement
    enum class Side { hot, cold };          // hot: must stay at or above the limit; cold: at or below
    Holding(Side side, double limit_c) : side_(side), limit_c_(limit_c) {}

    // Holding begins; what was counted so far stays. `from_reached`: it is still on its way to the limit, and
    // counts from when it gets there, or from `most_s` on.
    void begin(double t, std::optional<double> c, bool from_reached = false,
               double most_s = std::numeric_limits<double>::infinity());
    void stop() { held_ = false; }
    void add(Step const& step);

    bool held() const { return held_; }  // now
    bool ever() const { return ever_; }
    bool reached() const { return reached_; }  // was on the right side since `begin`
    double began_s() const { return began_; }
    double beyond_s() const { return beyond_; }  // measured
    double beyond_possible_s() const { return beyond_possible_; }
    std::optional<double> worst_c() const { return worst_; }  // measured, on the wrong side
    double spell_s(double now) const {
        return spell_from_ ? now - *spell_from_ : 0;
    }  // beyond without a break
    // The same with the time before it that was not read at its worst.
    double spell_possible_s(double now) const { return spell_from_ ? now - spell_possible_from_ : 0; }
    double hole_s() const { return spell_from_ ? hole_ : 0; }  // not read at the spell's begin, s
    LastDay const& last_day() const { return last_day_; }      // since it was first on the right side
    // It was still beyond the limit when its holding began, on its way by another rule. degC
    std::optional<double> came_from_c() const {
        return held_ && ever_ && beyond(way_from_) ? std::optional(way_from_) : std::nullopt;
    }
    double limit_c() const { return limit_c_; }

    void fields(FieldVisitor& visit);

private:
    bool on_its_way(Step const& step);
    bool beyond(double c) const {
        return side_ == Side::hot ? c < limit_c_ - rounding_k : c > limit_c_ + rounding_k;
    }
    Side side_;
    double limit_c_;
    bool held_ = false, ever_ = false, reached_ = false, from_reached_ = false;
    double way_most_ = 0, way_from_ = 0;  // of the way to the limit: s that it may take; degC at its begin
    double began_ = 0, beyond_ = 0, beyond_possible_ = 0, spell_possible_from_ = 0, hole_ = 0;
    std::optional<double> worst_, spell_from_;
    LastDay last_day_;
};

}  // namespace ingle
