// Which library knows the zones of the world: the standard one where it does (GCC 14), else Howard Hinnant's
// date, from which that came: the same functions under another name. Only for civil_time/time_zone.cpp.
#pragma once

#include <chrono>

#if defined(__cpp_lib_chrono) && __cpp_lib_chrono >= 201907L
namespace ingle::zone_library {
using std::chrono::locate_zone;
using std::chrono::time_zone;
}  // namespace ingle::zone_library
#else
#include <date/tz.h>
namespace ingle::zone_library {
using date::locate_zone;
using date::time_zone;
}  // namespace ingle::zone_library
#endif
