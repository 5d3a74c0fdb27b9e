// From the probes of a kitchen file to drivers: checks each driver's own keys, groups the probes that share a
// device, makes the drivers. Used by the daemon and by `ingle check` and `ingle probe`.
#pragma once

#include <memory>
#include <vector>

#include "config/load.hpp"
#include "drivers/api/driver.hpp"

namespace ingle {

Options to_options(FreeKeys const& keys);

// Everything that is wrong with the drivers' own keys: file, line, key, what would be right.
std::vector<ConfigError> wiring_problems(Settings const& settings);

// Which probes are switches: their drivers know.
void mark_contacts(Settings& settings);

struct ProbeGroup {  // probes that share one driver object
    DriverInfo const* driver = nullptr;
    std::vector<ProbeWiring> probes;
};
// In the order of the kitchen file. Probes of unknown or left-out drivers are skipped (wiring_problems
// tells).
std::vector<ProbeGroup> group_probes(Settings const& settings);

}  // namespace ingle
