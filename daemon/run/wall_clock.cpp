#include "daemon/run/wall_clock.hpp"

#include <sys/timex.h>
#include <unistd.h>

#include <cstdlib>
#include <fstream>

namespace ingle {
namespace {

constexpr std::int64_t jump_ms = 1000;  // slower drift is slewing, and a log line a minute would follow it
// systemd-timesyncd's sign, made once the clock was set from the network and gone with the boot.
constexpr char const* synchronised_sign = "/run/systemd/timesync/synchronized";
constexpr std::int64_t battery_clock_agrees_ms = 2000;  // it counts whole seconds

// False where the service's system call filter answers in the kernel's place.
bool kept_by_a_time_service() {
    timex state{};
    int const word = adjtimex(&state);
    return word >= 0 && word != TIME_ERROR && (state.status & STA_UNSYNC) == 0;
}

// A clock without a battery comes up in another year than the saved time that the system starts from.
bool battery_clock_agrees(WallTime wall) {
    std::int64_t since_1970 = 0;
    std::ifstream file("/sys/class/rtc/rtc0/since_epoch");
    if (!(file >> since_1970)) return false;
    return std::llabs(wall.time_since_epoch().count() - 1000 * since_1970 - 500) < battery_clock_agrees_ms;
}

}  // namespace

std::optional<ClockAnchor> WallClock::look(Instant boot, WallTime wall, bool proven) {
    auto const wall_ms = wall.time_since_epoch().count();
    proven = proven || (anchor_ && anchor_->proven);
    // A clock that says a sensible date is believed until it is corrected: it dates what is shown. That it is
    // right is another matter.
    ClockAnchor const now{wall_ms - boot.time_since_epoch().count(), wall_ms >= build_ms_ || proven, proven};
    if (anchor_ && std::llabs(anchor_->offset_ms - now.offset_ms) < jump_ms &&
        anchor_->certain == now.certain && anchor_->proven == now.proven)
        return std::nullopt;
    anchor_ = now;
    return now;
}

bool clock_proven(WallTime wall) {
    return access(synchronised_sign, F_OK) == 0 || kept_by_a_time_service() || battery_clock_agrees(wall);
}

}  // namespace ingle
