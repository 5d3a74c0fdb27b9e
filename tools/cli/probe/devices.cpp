#include "tools/cli/probe/devices.hpp"

#include <algorithm>
#include <filesystem>

#include "daemon/wiring/wiring.hpp"
#include "drivers/api/registry.hpp"

namespace ingle::cli {
namespace {

std::string otherwise_of(DriverInfo const& driver, std::string_view key) {
    auto const info = std::ranges::find(driver.options, key, &OptionInfo::name);
    return info == driver.options.end() ? std::string() : std::string(info->otherwise);
}

bool same_device(std::string const& given, Found::Option const& option) {
    if (given == option.value || std::ranges::find(option.also, given) != option.also.end())
        return !given.empty();
    std::error_code ignored;  // a path may be written in more ways than one
    return given.starts_with('/') && std::filesystem::equivalent(given, option.value, ignored);
}

}  // namespace

bool configured(Settings const& settings, Device const& device) {
    return std::ranges::any_of(settings.probes, [&](ProbeSettings const& probe) {
        auto const* driver = find_driver(probe.driver);
        if (!driver) return false;
        auto const options = to_options(probe.options);
        return std::ranges::all_of(device.found.options, [&](Found::Option const& option) {
            auto const knows =
                std::ranges::find(driver->options, option.key, &OptionInfo::name) != driver->options.end();
            return knows && same_device(options.text(option.key, otherwise_of(*driver, option.key)), option);
        });
    });
}

std::vector<std::string> device_lines(Device const& device) {
    std::vector<std::string> lines{"driver = \"" + std::string(device.driver->name) + "\""};
    for (auto const& option : device.found.options)
        lines.push_back(std::string(option.key) + " = \"" + option.value + "\"");
    for (auto const& info : device.driver->options) {
        bool const given = std::ranges::find(device.found.options, info.name, &Found::Option::key) !=
                           device.found.options.end();
        if (given || !(info.required || info.name == "channel" || info.name == "unit")) continue;
        std::string help(info.help);
        for (auto const word : info.allowed)
            help += std::string(word == info.allowed.front() ? ": " : ", ") + std::string(word);
        auto const value = info.otherwise.empty() ? "..." : std::string(info.otherwise);
        lines.push_back(std::string(info.name) + " = \"" + value + "\"   # " + help);
    }
    return lines;
}

std::vector<Device> find_devices() {
    std::vector<Device> devices;
    for (auto const* driver : drivers())
        if (driver->find)
            for (auto& found : driver->find("/")) devices.push_back({driver, std::move(found)});
    return devices;
}

}  // namespace ingle::cli
