// Changes the kitchen file as somebody with an editor would, with a copy of it
// as it was, and has the daemon that runs on it read it again.
#pragma once

#include <functional>
#include <string>

#include "tools/cli/program/command.hpp"

namespace ingle::cli {

// `file`: "" is the one that the daemon runs on. `edit` makes the new text of
// the old one. Nothing is changed where the new text has mistakes, which are
// then told (Failure, wrong usage). The answer says what was done.
std::string change_kitchen(Context const& context, std::string const& file,
                           std::function<std::string(std::string const&)> const& edit);

}  // namespace ingle::cli
