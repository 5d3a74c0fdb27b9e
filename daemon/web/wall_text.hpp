// Wall times of an answer, in the process's time zone. Reads the C library's zone tables; any thread.
#pragma once

#include <string>

#include "daemon/web/host.hpp"

namespace ingle {

// "2026-11-26T17:00:00-05:00"; milliseconds only where there are some. The offset tells a doubled hour apart.
std::string local_iso_time(WallMs at);

}  // namespace ingle
