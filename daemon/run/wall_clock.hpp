// Follows the distance between wall time and boot time, and tells when the clock was set. Wall time is only
// an anchor: no timer waits on it. io thread.
#pragma once

#include <cstdint>
#include <optional>
#include <string>

#include "daemon/model/command.hpp"

namespace ingle {

class WallClock {
public:
    // `build_ms`: wall time (ms since 1970 UTC) before which the clock cannot be right.
    explicit WallClock(std::int64_t build_ms) : build_ms_(build_ms) {}

    // Call once a second with both clocks read together. An anchor the first time, whenever the distance
    // moved by more than a second, and when the time became certain or proven (and from then on it stays so).
    std::optional<ClockAnchor> look(Instant boot, WallTime wall, bool proven);
    std::optional<ClockAnchor> const& anchor() const { return anchor_; }
    bool proven() const { return anchor_ && anchor_->proven; }

private:
    std::int64_t build_ms_;
    std::optional<ClockAnchor> anchor_;
};

// Whether anything vouches for the system's clock: the service manager's sign that it was synchronised
// (/run/systemd/timesync/synchronized), the kernel's word that a time service keeps it (adjtimex, where the
// service's filter lets it through), or the board's own battery clock that says the same time. No I/O that
// can hang.
bool clock_proven(WallTime wall);

}  // namespace ingle
