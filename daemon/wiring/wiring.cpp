#include "daemon/wiring/wiring.hpp"

#include <algorithm>
#include <map>
#include <string>
#include <utility>

#include "drivers/api/registry.hpp"

namespace ingle {
namespace {

std::string known_drivers() {
    std::string text;
    for (auto const* info : drivers()) {
        if (!text.empty()) text += ", ";
        text += info->name;
    }
    return text;
}

std::string text_of(OptionValue const& value) {
    if (auto const* text = std::get_if<std::string>(&value)) return *text;
    if (auto const* whole = std::get_if<std::int64_t>(&value)) return std::to_string(*whole);
    if (auto const* number = std::get_if<double>(&value)) return std::to_string(*number);
    if (auto const* flag = std::get_if<bool>(&value)) return *flag ? "true" : "false";
    std::string text;
    for (auto const item : std::get<std::vector<std::int64_t>>(value)) text += std::to_string(item) + ",";
    return text;
}

// The words that two probes must have in common to share a driver; a default counts as given.
std::string share_key(DriverInfo const& driver, Options const& options) {
    std::string key(driver.name);
    for (auto const name : driver.shared) {
        auto const given = options.all().find(name);
        std::string value;
        if (given != options.all().end()) {
            value = text_of(given->second);
        } else {
            auto const info = std::ranges::find(driver.options, name, &OptionInfo::name);
            if (info != driver.options.end()) value = info->otherwise;
        }
        key += '\n' + value;
    }
    return key;
}

}  // namespace

Options to_options(FreeKeys const& keys) {
    Options options;
    for (auto const& [name, free] : keys) {
        std::visit(
            [&options, &name = name](auto const& value) {
                using T = std::decay_t<decltype(value)>;
                if constexpr (std::is_same_v<T, std::vector<std::string>>) {
                    std::string joined;
                    for (auto const& item : value) joined += (joined.empty() ? "" : " ") + item;
                    options.set(name, joined);
                } else {
                    options.set(name, value);
                }
            },
            free.value);
    }
    return options;
}

std::vector<ConfigError> wiring_problems(Settings const& settings) {
    std::vector<ConfigError> errors;
    for (auto const& probe : settings.probes) {
        auto const prefix = "probe." + probe.name + ".";
        auto const* driver = find_driver(probe.driver);
        if (!driver) {
            auto const why = left_out(probe.driver);
            errors.push_back({probe.where, prefix + "driver",
                              why.empty() ? "there is no driver \"" + probe.driver + "\""
                                          : "the driver \"" + probe.driver +
                                                "\" is not in this build: " + std::string(why),
                              "one of " + known_drivers()});
            continue;
        }
        for (auto const& problem : problems(driver->options, to_options(probe.options))) {
            auto const given = probe.options.find(problem.key);
            errors.push_back({given == probe.options.end() ? probe.where : given->second.where,
                              prefix + problem.key, problem.wrong, problem.right});
        }
    }
    return errors;
}

void mark_contacts(Settings& settings) {
    for (auto& probe : settings.probes) {
        auto const* driver = find_driver(probe.driver);
        probe.contact = driver && driver->contact;
    }
}

std::vector<ProbeGroup> group_probes(Settings const& settings) {
    std::vector<ProbeGroup> groups;
    std::map<std::string, std::size_t> by_key;
    for (std::size_t number = 0; number < settings.probes.size(); ++number) {
        auto const& probe = settings.probes[number];
        auto const* driver = find_driver(probe.driver);
        if (!driver) continue;
        auto options = to_options(probe.options);
        auto const [place, added] = by_key.try_emplace(share_key(*driver, options), groups.size());
        if (added) groups.push_back({driver, {}});
        groups[place->second].probes.push_back(
            {static_cast<int>(number), probe.name, from_seconds(probe.every.seconds), std::move(options)});
    }
    return groups;
}

}  // namespace ingle
