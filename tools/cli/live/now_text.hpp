// The daemon's view (the JSON of /api/now) as a page of text. Pure; any thread.
#pragma once

#include <string>

#include "tools/cli/output/text.hpp"
#include "tools/cli/program/client.hpp"

namespace ingle::cli {

// `older_s`: how long ago the view was fetched; every age grows by it. First what needs the cook, then a line
// for each vessel and dish; of the food's rules only what says something now. Cut at its end to the
// terminal's height.
std::string now_text(Json const& now, double older_s, Terminal const& terminal);

// Everything of one dish: its state, its forecast, and each rule with its answer and source.
std::string dish_page(Json const& now, Json const& dish, Terminal const& terminal);

// What a cook must hear of between two views, a line each: alarms that come, change and end, a vessel that
// leaves or reaches its band or has no reading, a dish's stages, timers that are over. "" = nothing.
std::string now_changes(Json const& before, Json const& now);

// "not acknowledged" of an alarm's state.
std::string alarm_state_words(std::string const& state);

// The alarms of a view, or of /api/alarms. "" where there are none.
std::string alarms_text(Json const& alarms, double older_s, Terminal const& terminal);

std::string timers_text(Json const& timers, double older_s);
std::string reminders_text(Json const& reminders, double older_s);

TemperatureUnit unit_of(Json const& now);

}  // namespace ingle::cli
