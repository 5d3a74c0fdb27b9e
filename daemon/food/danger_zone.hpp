// How long the core was, and may have been, between the danger-zone limits, summed over the whole cook.
// Owned by the ledger; pure.
#pragma once

#include "daemon/food/classes.hpp"
#include "daemon/food/state.hpp"
#include "daemon/food/step.hpp"

namespace ingle {

enum class Care { none, heated, cooled };  // what is being done to it; being cooled has its own rule

class DangerZone {
public:
    explicit DangerZone(ZoneLimits const& zone) : zone_(&zone) {}

    void add(Step const& step, Care care);

    // Seconds. `possible` = measured + what the gaps allow at their worst (infinite if a gap's length is not
    // known).
    double measured_s() const { return measured_s_; }
    double possible_s() const { return possible_s_; }
    double heated_possible_s() const { return heated_s_; }  // of these, while it was being heated
    double idle_possible_s() const { return idle_s_; }      // neither heated nor cooled on purpose
    ZoneLimits const& zone() const { return *zone_; }

    void fields(FieldVisitor& visit);

private:
    ZoneLimits const* zone_;
    double measured_s_ = 0, possible_s_ = 0, heated_s_ = 0, idle_s_ = 0;
};

}  // namespace ingle
