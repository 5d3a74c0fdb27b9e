// A schedule in the JSON of the contract: what `ingle schedule --json` prints and GET /api/schedule answers.
// Pure.
#pragma once

#include <string>

#include "daemon/schedule/schedule.hpp"

namespace ingle::schedule {

// Times in ISO 8601 with the offset of `zone`, lengths in whole seconds.
std::string schedule_document(Schedule const& schedule, Settings const& settings, TimeZone const& zone);

}  // namespace ingle::schedule
