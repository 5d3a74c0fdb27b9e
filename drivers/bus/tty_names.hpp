// Which serial device a path means: names that stay, names that move, two adapters that look the same.
// Reads links only, never opens a device; any thread. `root` stands in for "/" in tests.
#pragma once

#include <string>
#include <vector>

namespace ingle {

// Empty if the path is fine. Otherwise a sentence: a bare ttyUSB0 or ttyACM0 moves with the order of
// plugging; names the stable link to write instead, where there is one.
std::string moving_name_warning(std::string const& path, std::string const& root = "/");

// Empty if the path means one device. Otherwise a sentence: another adapter has the same identity (a by-id
// link points to whichever came last); advises the by-path link.
std::string ambiguous_name(std::string const& path, std::string const& root = "/");

// The serial devices that have a link under /dev/serial, each by the name to write in a kitchen file (by-id,
// unless two adapters share it) and by all its other names.
struct SerialName {
    std::string stable;
    std::vector<std::string> also;  // further links, and the /dev/tty... of now
};
std::vector<SerialName> serial_names(std::string const& root = "/");

// "the group dialout; this process belongs to ingle, users": for "no permission" messages.
std::string group_of_file_and_process(std::string const& path);

}  // namespace ingle
