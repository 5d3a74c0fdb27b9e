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
// The drivers' own keys are not looked at. From then on times are told in its zone.
Settings read_kitchen(std::filesystem::path const& path);

}  // namespace ingle::cli
