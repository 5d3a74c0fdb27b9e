#include "daemon/run/wall_clock.hpp"

#include <sys/timex.h>

#include <cstdlib>
#include <fstream>

namespace ingle {
namespace {

constexpr std::int64_t jump_ms = 1000;  // slower drift is slewing, and a log line a minute would follow it

}  // namespace

std::optional<ClockAnchor> WallClock::look(Instant boot, WallTime wall, bool synchronised) {
    auto const wall_ms = wall.time_since_epoch().count();
    ClockAnchor now{wall_ms - boot.time_since_epoch().count(), wall_ms >= build_ms_};
    // A clock that says a sensible date but has never been synchronised is believed until it is corrected:
    // most boards with a battery never run a time service.
    now.certain = now.certain || synchronised;
    if (anchor_ && std::llabs(anchor_->offset_ms - now.offset_ms) < jump_ms &&
        anchor_->certain == now.certain)
        return std::nullopt;
    anchor_ = now;
    return now;
}

bool clock_synchronised() {
    timex state{};
    int const word = adjtimex(&state);
    return word >= 0 && word != TIME_ERROR && (state.status & STA_UNSYNC) == 0;
}

std::string boot_id() {
    std::ifstream file("/proc/sys/kernel/random/boot_id");
    std::string id;
    return std::getline(file, id) && !id.empty() ? id : "unknown";
}

}  // namespace ingle
