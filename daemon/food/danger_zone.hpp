// How long the core was, and may have been, between the danger-zone limits, summed over the whole cook.
// Owned by the ledger; pure.
#pragma once

#include <algorithm>

#include "daemon/food/classes.hpp"
#include "daemon/food/state.hpp"
#include "daemon/food/step.hpp"

namespace ingle {

enum class Care { none, heated, cooled };  // what is being done to it; being cooled has its own rule

class DangerZone {
public:
    explicit DangerZone(ZoneLimits const& zone) : zone_(&zone) {}

    // `hot_room`: the air around the food is above 90 degF, where the source allows half as long.
    void add(Step const& step, Care care, bool hot_room = false);
    // A cooling is over: it came to its end, and its rule judges it; or it came to nothing, and its time
    // counts as if nobody had cooled.
    void cooling_over(bool came_to_its_end);
    // What was read until `t`, s since the begin, was not the centre: it may have been in the zone all along.
    void nothing_seen_until(double t);

    // Seconds. `possible` = measured + what the gaps allow at their worst (infinite if a gap's length is not
    // known).
    double measured_s() const { return measured_s_; }
    double possible_s() const { return possible_s_; }
    double heated_possible_s() const { return heated_s_; }  // of these, while it was being heated
    // Surely: what is only possible may all have been in it.
    double heated_measured_s() const { return std::max(0.0, heated_s_ - (possible_s_ - measured_s_)); }
    double idle_possible_s() const { return idle_s_; }  // neither heated nor cooled on purpose
    double idle_measured_s() const { return idle_measured_; }
    double idle_hot_room_s() const { return idle_hot_; }  // possible, of the idle ones
    bool idle_too_long() const { return idle_s_ > zone_->most_s || idle_hot_ > zone_->most_hot_room_s; }
    bool idle_surely_too_long() const { return idle_measured_ > zone_->most_s; }
    bool idle_hot_too_long() const { return idle_hot_ > zone_->most_hot_room_s; }
    ZoneLimits const& zone() const { return *zone_; }

    void fields(FieldVisitor& visit);

private:
    ZoneLimits const* zone_;
    double measured_s_ = 0, possible_s_ = 0, heated_s_ = 0, idle_s_ = 0, idle_measured_ = 0, idle_hot_ = 0;
    double cooled_s_ = 0, cooled_measured_ = 0;  // of the cooling that is under way
};

}  // namespace ingle
