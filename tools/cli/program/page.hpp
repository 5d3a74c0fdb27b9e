// A command whose answer is a page for people.
#pragma once

#include <functional>

#include "tools/cli/program/command.hpp"

namespace ingle::cli {

// Does `run`; what it writes is fitted to the width of the terminal, where that is known. The exit status.
int on_a_page(Context const& context, std::function<int(Context&)> const& run);

}  // namespace ingle::cli
