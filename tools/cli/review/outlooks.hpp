// What would have been foretold of a cook's core, minute by minute: the core of the daemon over the recorded
// readings. Pure.
#pragma once

#include "config/settings.hpp"
#include "daemon/review/record.hpp"

namespace ingle::cli {

// Fills record.outlooks; leaves them empty, with the reason in outlooks_from, where that would take too long.
void recompute_outlooks(Settings settings, CookRecord& record);

}  // namespace ingle::cli
