// Lengths of time as people say and type them, before they are parsed. Pure; any thread.
#pragma once

#include <string>
#include <string_view>

namespace ingle {

// "90 secs" as "90 s", "1h30" as "1h30min", "two hours" as "2 hours", "half an hour" as "0.5 hour", "an hour
// and a half" as "1 hour 0.5 hour". What is not understood stays as it is.
std::string plain_duration(std::string_view said);

}  // namespace ingle
