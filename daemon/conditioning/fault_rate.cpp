#include "daemon/conditioning/fault_rate.hpp"

#include <algorithm>
#include <cstddef>

namespace ingle {

namespace {

constexpr std::uint32_t least_readings = 5;

}  // namespace

// Rounds down also below zero (a stamp from before this boot).
std::int64_t FaultRate::slot_of(Instant at) {
    auto const ms = at.time_since_epoch().count();
    auto const n = slot_.count();
    return ms >= 0 ? ms / n : -((-ms + n - 1) / n);
}

bool FaultRate::any_lost() const {
    return std::ranges::any_of(ring_, [](Slot const& slot) { return slot.lost > 0; });
}

void FaultRate::count(Instant at, bool lost) {
    std::int64_t const number = slot_of(at);
    Slot& slot = place(number);
    if (number < slot.number) return;  // older than the whole ring
    if (slot.number != number) slot = {number, 0, 0};
    ++slot.all;
    slot.lost += lost;
}

double FaultRate::share(Instant now) const {
    std::int64_t const newest = slot_of(now);
    std::uint32_t all = 0, lost = 0;
    for (Slot const& slot : ring_) {
        if (slot.all == 0 || slot.number <= newest - slots_ || slot.number > newest) continue;
        all += slot.all;
        lost += slot.lost;
    }
    return all < least_readings ? 0.0 : static_cast<double>(lost) / static_cast<double>(all);
}

}  // namespace ingle
