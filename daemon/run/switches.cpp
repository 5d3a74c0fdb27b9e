#include "daemon/run/switches.hpp"

namespace ingle {

std::vector<Command> commands_of_switch(Settings const& settings, int probe, bool closed) {
    std::vector<Command> commands;
    for (std::size_t vessel = 0; vessel < settings.vessels.size(); ++vessel)
        if (settings.vessels[vessel].door == probe)
            commands.emplace_back(Switch{static_cast<int>(vessel), !closed});
    auto const& own = settings.probes[static_cast<std::size_t>(probe)];
    auto const found = own.options.find("acknowledges");
    auto const* button = found == own.options.end() ? nullptr : std::get_if<bool>(&found->second.value);
    if (closed && button && *button) commands.emplace_back(Acknowledge{{}, own.name});
    return commands;
}

}  // namespace ingle
