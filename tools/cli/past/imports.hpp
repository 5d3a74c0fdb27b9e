// Imported recordings: each is a logbook file of its own beside the daemon's, so that a recording of last
// year never mixes with what the living kitchen records, and can be made while it does.
#pragma once

#include <filesystem>
#include <string>
#include <vector>

#include "tools/cli/program/command.hpp"

namespace ingle::cli {

bool could_be_import(std::string const& name);  // lower-case letters, digits and '-', at most 64
std::filesystem::path import_folder(Context const& context);
// The file of that import; empty if there is none (or the name could not be one).
std::filesystem::path import_path(Context const& context, std::string const& name);
std::vector<std::string> imports(Context const& context);  // names, in order

}  // namespace ingle::cli
