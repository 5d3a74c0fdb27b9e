// The kitchen file as the daemon and the CLI use it: with its plans, and with everything that only the
// drivers and the channels know to be wrong.
#pragma once

#include <filesystem>
#include <vector>

#include "config/load.hpp"

namespace ingle {

// Where the plans that come with Ingle lie, as seen from a program of it: installed, and in a build's tree.
std::vector<std::filesystem::path> shipped_plans(std::filesystem::path const& program);
std::vector<std::filesystem::path> shipped_plans();  // of the running program; none where it is not known

// Plans are looked up beside the kitchen file, in plans/ there, in ../plans, then among the shipped ones.
Loaded load_kitchen_and_plans(std::filesystem::path const& file);

// The same, and errors also for the keys of drivers and channels; all of them at once, in the order of
// the file.
Loaded load_kitchen_for_use(std::filesystem::path const& file);
// The same of what was kept of the files. A channel, or the page, that lacks what it needs (a token's file
// that is gone) is left out with a warning: the kitchen is watched all the same.
Loaded load_kitchen_for_use(KitchenTexts const& texts);

}  // namespace ingle
