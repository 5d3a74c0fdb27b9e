// The daemon's view (the JSON of /api/now) as a page of text. Pure; any thread.
#pragma once

#include <string>

#include "tools/cli/output/text.hpp"
#include "tools/cli/program/client.hpp"

namespace ingle::cli {

// `older_s`: how long ago the view was fetched; every age grows by it. `brief`: of the verdicts only the
// answers, for a page that is redrawn.
std::string now_text(Json const& now, double older_s, Terminal const& terminal, bool brief = false);

// The alarms of a view, or of /api/alarms. "" where there are none.
std::string alarms_text(Json const& alarms, double older_s, Terminal const& terminal);

std::string timers_text(Json const& timers, double older_s);

TemperatureUnit unit_of(Json const& now);

}  // namespace ingle::cli
