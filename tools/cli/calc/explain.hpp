// The parts of `ingle explain`.
#pragma once

#include "tools/cli/program/command.hpp"

namespace ingle::cli {

void add_explain_plan(Verb const& explain, Context& context);    // the shipped plans, or one in sentences
void add_explain_wiring(Verb const& explain, Context& context);  // the keys of drivers and of channels
void add_explain_keys(Verb const& explain, Context& context);    // the keys of kitchen and plan files

}  // namespace ingle::cli
