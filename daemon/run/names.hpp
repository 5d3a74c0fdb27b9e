// The names of the kitchen file for the numbers that the core uses. Pure.
#pragma once

#include <optional>
#include <string>

#include "config/settings.hpp"
#include "daemon/model/command.hpp"
#include "daemon/model/subject.hpp"

namespace ingle {

std::string name_of(Settings const& settings, Subject subject);  // the kitchen's own name for the kitchen

// One word list per probe: "port=/dev/ttyUSB0 channel=T1", by which a replaced probe is recognised.
std::string device_of(ProbeSettings const& probe);

// ISO 8601 with the offset of the local zone at that moment; "" if wall time is not known.
std::string iso_time(Instant at, std::optional<ClockAnchor> const& anchor);

}  // namespace ingle
