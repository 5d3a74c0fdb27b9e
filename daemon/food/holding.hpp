// Hot or cold holding, by the hour or over days: how long beyond the limit, measured and possible apart, and
// how far. Owned by the ledger (a core) or by whoever looks after a vessel (its medium); pure.
#pragma once

#include <optional>

#include "daemon/food/state.hpp"
#include "daemon/food/step.hpp"

namespace ingle {

class Holding {
public:
    enum class Side { hot, cold };  // hot: must stay at or above the limit; cold: at or below
    Holding(Side side, double limit_c) : side_(side), limit_c_(limit_c) {}

    // Holding begins; what was counted so far stays. `from_reached`: it is still on its way to the limit, and
    // counts from when it gets there.
    void begin(double t, std::optional<double> c, bool from_reached = false);
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
    double limit_c() const { return limit_c_; }

    void fields(FieldVisitor& visit);

private:
    bool beyond(double c) const {
        return side_ == Side::hot ? c < limit_c_ - rounding_k : c > limit_c_ + rounding_k;
    }
    Side side_;
    double limit_c_;
    bool held_ = false, ever_ = false, reached_ = false, from_reached_ = false;
    double began_ = 0, beyond_ = 0, beyond_possible_ = 0;
    std::optional<double> worst_, spell_from_;
};

}  // namespace ingle
