// What is wired to this machine, whether or not a kitchen file knows of it.
#pragma once

#include <string>
#include <vector>

#include "config/settings.hpp"
#include "drivers/api/driver.hpp"

namespace ingle::cli {

struct Device {
    DriverInfo const* driver;
    Found found;
};

std::vector<Device> find_devices();
// Does a probe of the kitchen read this device already? A port serves drivers
// of more than one kind.
bool configured(Settings const& settings, Device const& device);
// The lines of its [[probe]] but for the name. What only a person knows is left
// open ("..."), with a word of help.
std::vector<std::string> device_lines(Device const& device);

}  // namespace ingle::cli
