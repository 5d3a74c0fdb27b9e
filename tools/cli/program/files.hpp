// Files that commands are given, read whole or refused with a sentence.
#pragma once

#include <cstddef>
#include <filesystem>
#include <string>
#include <string_view>

#include "config/load.hpp"
#include "drivers/reading/recording.hpp"

namespace ingle::cli {

// Throws Failure (wrong usage) where it cannot be read or is longer than `most` bytes.
std::string read_file(std::filesystem::path const& path, std::size_t most);
// Throws Failure where there is a file of that name which does not begin as what is to be written there does:
// a logbook or a kitchen file is not written over by a slip.
void refuse_to_replace_another_kind(std::string const& path, std::string_view begins);
// Each throws Failure (wrong usage) with every mistake, one a line.
Recording read_recording(std::filesystem::path const& path);
// The drivers' own keys are not looked at. From then on times are told in its zone.
Settings read_kitchen(std::filesystem::path const& path);

}  // namespace ingle::cli
