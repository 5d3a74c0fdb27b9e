// GET /metrics: the kitchen in OpenMetrics 1.0 text. Pure; any thread.
#pragma once

#include <string>

#include "daemon/web/host.hpp"
#include "daemon/web/server.hpp"

namespace ingle {

inline constexpr char const* metrics_type = "application/openmetrics-text; version=1.0.0; charset=utf-8";

// A probe without a usable value has no temperature sample at all; its age and ingle_probe_up tell.
std::string metrics_text(View const& view, Status const& status, ServerCounts const& counts);

}  // namespace ingle
