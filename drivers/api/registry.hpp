// The drivers in this build, from drivers/drivers.def.
#pragma once

#include <span>
#include <string_view>

#include "drivers/api/driver.hpp"

namespace ingle {

std::span<DriverInfo const* const> drivers();          // in the order of drivers.def
DriverInfo const* find_driver(std::string_view name);  // nullptr if there is none of that name

// A driver of the design that this build leaves out, and why ("libgpiod was not there when Ingle was built");
// empty if `name` is no such driver.
std::string_view left_out(std::string_view name);

}  // namespace ingle
