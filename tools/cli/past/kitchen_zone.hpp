// In which zone a kitchen's times are told.
#pragma once

#include <string>

#include "tools/cli/program/command.hpp"

namespace ingle::cli {

// An IANA name: of the running daemon's kitchen, else of the one that the logbook was last written for.
// "": neither says one.
std::string kitchen_zone(Context const& context);

}  // namespace ingle::cli
