// What a schedule goes by besides the kitchen file: what a running daemon says of the dishes that cook, and
// how long their stages took in earlier cooks.
#pragma once

#include <vector>

#include "daemon/schedule/schedule.hpp"
#include "tools/cli/program/client.hpp"

namespace ingle::cli {

// Of the answer of /api/now, for the kitchen of that name; empty where it is another one's.
std::vector<schedule::Running> running_dishes(Json const& now, Settings const& settings,
                                              schedule::Seconds at);

// From the logbook of the state folder, if there is one: finished stages in the vessel that the plan has them
// in.
std::vector<schedule::Past> past_stages(Context const& context, Settings const& settings);

}  // namespace ingle::cli
