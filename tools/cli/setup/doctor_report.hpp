// What can be attached to a question: what is installed, how it is set up and what it came to, without a
// secret.
#pragma once

#include <string>

#include "tools/cli/program/command.hpp"

namespace ingle::cli {

// `findings`: the doctor's, as it tells them. `kitchen_file`: "" = no daemon said it. Reads only.
std::string doctor_report(Context const& context, std::string const& findings,
                          std::string const& kitchen_file);

// A new file that its owner alone can read. Throws Failure where there is one of that name, or it cannot be
// written.
void write_private(std::string const& path, std::string const& text);

}  // namespace ingle::cli
