// Files that commands are given, read whole or refused with a sentence.
#pragma once

#include <filesystem>
#include <string>

#include "config/load.hpp"
#include "drivers/reading/recording.hpp"

namespace ingle::cli {

std::string read_file(std::filesystem::path const& path);
// Each throws Failure (wrong usage) with every mistake, one a line.
Recording read_recording(std::filesystem::path const& path);
Settings read_kitchen(std::filesystem::path const& path);  // the drivers' own keys are not looked at

}  // namespace ingle::cli
