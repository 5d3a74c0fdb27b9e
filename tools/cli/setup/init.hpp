// ingle init: a first kitchen file.
#pragma once

#include "tools/cli/program/command.hpp"

namespace ingle::cli {

void add_init(Verb const& app, Context& context);

}  // namespace ingle::cli
