// Numbers of the alarms that are raised before the logbook opened. What it holds may have any number below.
#pragma once

#include <cstdint>

namespace ingle {

inline constexpr std::int64_t last_alarm_before_late = 1'000'000;
constexpr bool is_late_alarm(std::int64_t number) {
    return number > last_alarm_before_late;
}

}  // namespace ingle
