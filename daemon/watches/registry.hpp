// The watches in this build, from watches.def.
#pragma once

#include <span>

#include "daemon/watches/watch.hpp"

namespace ingle {

std::span<WatchInfo const* const> watches();  // in the order of watches.def

}  // namespace ingle
