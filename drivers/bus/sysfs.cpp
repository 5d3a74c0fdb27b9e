#include "drivers/bus/sysfs.hpp"

#include <dirent.h>
#include <fcntl.h>
#include <unistd.h>

#include <algorithm>
#include <cerrno>
#include <charconv>
#include <cmath>
#include <filesystem>
#include <memory>
#include <system_error>

namespace ingle {

FileText read_text(std::string const& path) {
    int const fd = ::open(path.c_str(), O_RDONLY | O_CLOEXEC);
    if (fd < 0) return {{}, errno};
    FileText out;
    out.text.resize(4096);
    std::size_t length = 0;
    while (length < out.text.size()) {
        auto const count = ::read(fd, out.text.data() + length, out.text.size() - length);
        if (count < 0 && errno == EINTR) continue;
        if (count < 0) out.error = errno;
        if (count <= 0) break;
        length += static_cast<std::size_t>(count);
    }
    ::close(fd);
    out.text.resize(length);
    while (!out.text.empty() && out.text.back() == '\n') out.text.pop_back();
    return out;
}

std::vector<std::string> folder_names(std::string const& path) {
    std::vector<std::string> names;
    std::error_code ignored;
    for (auto const& entry : std::filesystem::directory_iterator(path, ignored))
        names.push_back(entry.path().filename().string());
    std::ranges::sort(names);
    return names;
}

std::optional<double> file_number(std::string_view text) {
    while (!text.empty() && (text.back() == '\n' || text.back() == ' ')) text.remove_suffix(1);
    while (!text.empty() && text.front() == ' ') text.remove_prefix(1);
    double value = 0;
    auto const end = text.data() + text.size();
    auto const [stop, error] = std::from_chars(text.data(), end, value, std::chars_format::fixed);
    if (text.empty() || error != std::errc() || stop != end || !std::isfinite(value)) return std::nullopt;
    return value;
}

bool supply_is_low(std::string const& sysfs) {
    auto const parent = sysfs + "/class/hwmon";
    for (auto const& chip : folder_names(parent))
        for (auto const& file : folder_names(parent + "/" + chip))
            if (file.starts_with("in") && file.ends_with("_lcrit_alarm") &&
                read_text(parent + "/" + chip + "/" + file).text == "1")
                return true;
    return false;
}

Fault file_fault(std::string const& path, int error) {
    auto const text = path + ": " + std::system_category().message(error);
    if (error == ENOENT || error == ENODEV || error == ENXIO || error == ENOTDIR)
        return {FaultKind::absent, text};
    if (error == EACCES || error == EPERM || error == EBUSY) return {FaultKind::refused, text};
    return {FaultKind::no_reply, text};
}

std::vector<DeviceFolder> device_folders(std::string const& parent, std::string_view prefix) {
    std::vector<DeviceFolder> found;
    for (auto const& folder : folder_names(parent)) {
        if (!folder.starts_with(prefix)) continue;
        DeviceFolder device{parent + "/" + folder, folder, {}, {}, {}};
        device.name = read_text(device.path + "/name").text;
        device.label = read_text(device.path + "/label").text;
        std::error_code none;
        auto owner = std::filesystem::canonical(device.path + "/device", none);
        if (none) owner = std::filesystem::canonical(device.path, none).parent_path();
        if (!none) device.owner = owner.filename().string();
        found.push_back(std::move(device));
    }
    return found;
}

FoundDevice find_device(std::string const& parent, std::string_view prefix, std::string_view wanted) {
    auto const at = wanted.find('@');
    auto const name = wanted.substr(0, at);
    auto const owner = at == std::string_view::npos ? std::string_view() : wanted.substr(at + 1);
    std::vector<FoundDevice> found;
    std::string seen;
    for (auto const& device : device_folders(parent, prefix)) {
        seen += (seen.empty() ? "" : ", ") + device.folder + " (" + device.name + ")";
        if (name != device.folder && name != device.folder.substr(prefix.size()) && name != device.name &&
            (name.empty() || name != device.label))
            continue;
        std::error_code ignored;
        auto const real = std::filesystem::canonical(device.path, ignored);
        if (!owner.empty() && owner != device.owner && owner != real.parent_path().filename().string())
            continue;
        found.push_back({device.path, device.name, {}});
    }
    if (found.size() == 1) return found.front();
    if (found.empty())
        return {
            {},
            {},
            Fault{FaultKind::absent, "there is no device \"" + std::string(wanted) + "\" under " + parent +
                                         (seen.empty() ? "; there is none at all" : "; there are " + seen)}};
    return {{},
            {},
            Fault{FaultKind::refused, "two devices under " + parent + " are called \"" + std::string(name) +
                                          "\"; write \"" + std::string(name) +
                                          "@\" and the device that it belongs to, as spi0.1"}};
}

}  // namespace ingle
