// Which drivers this build has: drivers.def, through the list that CMake makes of it.
#include "drivers/api/registry.hpp"

#include <algorithm>
#include <string>
#include <utility>

namespace ingle {

#define DRIVER(folder) extern DriverInfo const folder##_driver;
#define DRIVER_LEFT_OUT(folder, part)
#include "drivers.inc"
#undef DRIVER
#undef DRIVER_LEFT_OUT

namespace {

constexpr DriverInfo const* built[] = {
#define DRIVER(folder) &folder##_driver,
#define DRIVER_LEFT_OUT(folder, part)
#include "drivers.inc"
#undef DRIVER
#undef DRIVER_LEFT_OUT
};

constexpr std::pair<std::string_view, std::string_view> absent[] = {
#define DRIVER(folder)
#define DRIVER_LEFT_OUT(folder, part) {#folder, #part " was not there when Ingle was built"},
#include "drivers.inc"
#undef DRIVER
#undef DRIVER_LEFT_OUT
    {"", ""}};

}  // namespace

std::span<DriverInfo const* const> drivers() {
    return built;
}

DriverInfo const* find_driver(std::string_view name) {
    for (auto const* info : built)
        if (info->name == name) return info;
    return nullptr;
}

std::string_view left_out(std::string_view name) {
    std::string folder_name(name);  // "gpio-switch" lives in gpio_switch
    std::ranges::replace(folder_name, '-', '_');
    for (auto const& [folder, why] : absent)
        if (!folder.empty() && folder == folder_name) return why;
    return {};
}

}  // namespace ingle
