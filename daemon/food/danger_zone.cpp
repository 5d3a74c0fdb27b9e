#include "daemon/food/danger_zone.hpp"

#include <algorithm>

namespace ingle {

void DangerZone::add(Step const& step, Care care, bool hot_room) {
    double const measured = seconds_between(step, zone_->low_c(), zone_->high_c());
    double const possible = possible_seconds_between(step, zone_->low_c(), zone_->high_c());
    measured_s_ += measured;
    possible_s_ += possible;
    switch (care) {
        case Care::heated:
            heated_s_ += possible;
            break;
        case Care::cooled:
            cooled_s_ += possible;
            cooled_measured_ += measured;
            break;
        case Care::none:
            idle_s_ += possible;
            idle_measured_ += measured;
            if (hot_room) idle_hot_ += possible;
            break;
    }
}

void DangerZone::cooling_over(bool came_to_its_end) {
    if (!came_to_its_end) {
        idle_s_ += cooled_s_;
        idle_measured_ += cooled_measured_;
    }
    cooled_s_ = cooled_measured_ = 0;
}

void DangerZone::nothing_seen_until(double t) {
    heated_s_ += std::max(0.0, t - possible_s_);
    possible_s_ = std::max(possible_s_, t);
}

void DangerZone::fields(FieldVisitor& visit) {
    for (double* n : {&measured_s_, &possible_s_, &heated_s_, &idle_s_, &idle_measured_, &idle_hot_,
                      &cooled_s_, &cooled_measured_})
        visit.number(*n);
}

}  // namespace ingle
