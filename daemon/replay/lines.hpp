// Effects as the JSON lines that `ingle replay --json` prints: one object a line, the same bytes for the same
// run on every machine. Pure; any thread.
#pragma once

#include <optional>
#include <string>

#include "config/settings.hpp"
#include "daemon/model/effects.hpp"
#include "daemon/model/summary.hpp"

namespace ingle {

// One line without its newline for an alarm raised or cleared, an event or a forecast; empty for the rest.
// `t` is in seconds since `start`. Absent numbers are null, never 0 or NaN.
std::optional<std::string> replay_line(Settings const& settings, Instant start, Effect const& effect);

// The last line: what the run came to.
std::string summary_line(Settings const& settings, Instant start, Instant end, RunSummary const& summary);

// The name in the kitchen file; "kitchen" for the kitchen itself.
std::string subject_name(Settings const& settings, Subject subject);

}  // namespace ingle
