// In which zone a kitchen's times are told.
#pragma once

#include <string>

#include "tools/cli/program/command.hpp"

namespace ingle::cli {

// An IANA name, of the running daemon's kitchen. "": there is none, or it says none; whoever reads a logbook
// learns the zone from it (Book).
std::string kitchen_zone(Context const& context);

}  // namespace ingle::cli
