#include "daemon/food/danger_zone.hpp"

namespace ingle {

void DangerZone::add(Step const& step, Care care) {
    double const possible = possible_seconds_between(step, zone_->low_c(), zone_->high_c());
    measured_s_ += seconds_between(step, zone_->low_c(), zone_->high_c());
    possible_s_ += possible;
    if (care == Care::heated) heated_s_ += possible;
    if (care == Care::none) idle_s_ += possible;
}

void DangerZone::fields(FieldVisitor& visit) {
    visit.number(measured_s_);
    visit.number(possible_s_);
    visit.number(heated_s_);
    visit.number(idle_s_);
}

}  // namespace ingle
