// A schedule in the JSON of the contract. Pure.
#pragma once

#include "daemon/schedule/schedule.hpp"
#include "tools/cli/program/client.hpp"

namespace ingle::cli {

Json schedule_json(schedule::Schedule const& schedule, Settings const& settings, TimeZone const& zone);

}  // namespace ingle::cli
