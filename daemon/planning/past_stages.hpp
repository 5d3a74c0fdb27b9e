// How long the stages of a kitchen's dishes took in earlier cooks, from the logbook. On the caller's thread:
// it may take a while.
#pragma once

#include <vector>

#include "daemon/logbook/reader.hpp"
#include "daemon/schedule/schedule.hpp"

namespace ingle::schedule {

// Of finished cooks by the same plan: stages that have kept their name and happened in the vessel that the
// plan has them in today. What cannot be read is left out: see the reader's `failure`.
std::vector<Past> past_stages(logbook::Reader& reader, Settings const& settings);

}  // namespace ingle::schedule
