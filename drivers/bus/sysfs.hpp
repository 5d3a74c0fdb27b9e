// Small files of the kernel: one value each, read whole. Reads can block for a conversion: device threads
// only.
#pragma once

#include <optional>
#include <string>
#include <string_view>
#include <vector>

#include "drivers/reading/fault.hpp"

namespace ingle {

inline constexpr std::string_view sysfs_root = "/sys";  // what `root` is without the option

struct FileText {
    std::string text;  // at most 4 KiB, without the last line end
    int error = 0;     // errno
};
FileText read_text(std::string const& path);

std::vector<std::string> folder_names(std::string const& path);  // sorted; empty if there is no such folder

// A whole number or a decimal one, nothing else around it but blanks; independent of the locale.
std::optional<double> file_number(std::string_view text);

// Does the kernel say that the board's own supply voltage is too low (an alarm of a hwmon chip's input)?
bool supply_is_low(std::string const& sysfs = std::string(sysfs_root));

// What an errno of open() or read() means for a sensor: absent, refused, no reply.
Fault file_fault(std::string const& path, int error);

// Every folder `<parent>/<prefix>N`: a device of the kernel.
struct DeviceFolder {
    std::string path, folder, name;  // name: the text of its file `name`
    std::string label;
    std::string full_name() const { return owner.empty() ? name : name + "@" + owner; }
    std::string owner;  // the bus device that it belongs to, such as "spi0.1"; "" if there is none
};
std::vector<DeviceFolder> device_folders(std::string const& parent, std::string_view prefix);

// The one of these that is called `wanted`: N itself, the folder's name, the text of its
// file `name` or `label`, or either with "@parent" (the name of the bus device that it belongs to, such as
// "max31856@spi0.1"). A fault says which devices there are, and refuses a name that two of them have.
struct FoundDevice {
    std::string path;  // empty with a fault
    std::string name;
    std::optional<Fault> fault;
};
FoundDevice find_device(std::string const& parent, std::string_view prefix, std::string_view wanted);

}  // namespace ingle
