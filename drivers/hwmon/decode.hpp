// What the files of one hwmon temperature say. Pure; any thread.
// Layout: Linux Documentation/hwmon/sysfs-interface (milli-degC; fault 1 = do not trust; enable 0 = off).
#pragma once

#include <variant>

#include "drivers/bus/sysfs.hpp"

namespace ingle {

struct HwmonFiles {
    FileText input, fault, enable;  // tempN_input, tempN_fault, tempN_enable; the last two may be absent
};
std::variant<double, Fault> decode_hwmon(std::string const& path, HwmonFiles const& files);

}  // namespace ingle
