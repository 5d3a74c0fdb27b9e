// Where the daemon keeps its state and where the command line looks for it: one answer for both.
#pragma once

#include <filesystem>
#include <string>

namespace ingle {

// The first that is set of $INGLE_STATE, $STATE_DIRECTORY (the service manager's), $XDG_STATE_HOME/ingle and
// $HOME/.local/state/ingle; else /var/lib/ingle.
std::filesystem::path default_state_folder();

// Is this the path of something that the daemon keeps there, as it is in the state folder? The logbook aside.
bool is_own_file(std::filesystem::path const& in_state);

// The logbook of a kitchen file ([kitchen] logbook), which is relative to the state folder.
std::filesystem::path logbook_path(std::filesystem::path const& state, std::string const& logbook);
// Makes the folders that a relative one names. A failure shows when the logbook is opened.
void make_logbook_folder(std::filesystem::path const& state, std::string const& logbook);

// Where the logbook is, for programs that know the state folder alone: kept in its file "logbook.path" if it
// is not the usual logbook.db. A failure to keep it is nothing to stop for.
void keep_logbook_path(std::filesystem::path const& state, std::filesystem::path const& logbook);
std::filesystem::path kept_logbook_path(std::filesystem::path const& state);
// Where the daemon keeps the kitchen that it last went by.
std::filesystem::path accepted_kitchen_path(std::filesystem::path const& state);
bool names_a_logbook(std::filesystem::path const& state);  // that file is there

}  // namespace ingle
