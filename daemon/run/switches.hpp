// What a switch on a line means to the kitchen: a lid or door of vessels, or a button. Pure; any thread.
#pragma once

#include <vector>

#include "config/settings.hpp"
#include "daemon/model/command.hpp"

namespace ingle {

// Of the switch `probe`, which has just changed. A button acknowledges when it is pressed, not when it is let
// go.
std::vector<Command> commands_of_switch(Settings const& settings, int probe, bool closed);

}  // namespace ingle
