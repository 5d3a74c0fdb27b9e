// A card that went read-only after a bad write: the kitchen is watched all the same. Any thread.
#pragma once

#include <unistd.h>

#include <cerrno>
#include <filesystem>

namespace ingle {

// True: the folder is there, and its disk takes no writes; not the rights of its files, which somebody can
// mend.
inline bool on_read_only_disk(std::filesystem::path const& folder) {
    return access(folder.c_str(), W_OK) != 0 && errno == EROFS;
}

}  // namespace ingle
