#include "drivers/bus/tty_names.hpp"

#include <grp.h>
#include <sys/stat.h>
#include <unistd.h>
#include <fstream>

#include <algorithm>
#include <filesystem>
#include <map>
#include <utility>
#include <vector>

namespace ingle {
namespace {

namespace fs = std::filesystem;

fs::path below(std::string const& root, std::string const& path) {
    return fs::path(root) / fs::path(path).relative_path();
}

std::string first_line(fs::path const& file) {
    std::ifstream in(file);
    std::string line;
    std::getline(in, line);
    return line;
}

// The link of /dev/serial/<kind> that leads to this device, as it would be written in a kitchen file.
std::string link_to(fs::path const& device, std::string const& kind, std::string const& root) {
    std::error_code ignored;
    auto const target = fs::weakly_canonical(device, ignored);
    for (auto const& entry : fs::directory_iterator(below(root, "/dev/serial/" + kind), ignored))
        if (fs::weakly_canonical(entry.path(), ignored) == target)
            return "/dev/serial/" + kind + "/" + entry.path().filename().string();
    return {};
}

// Vendor, product, serial number and interface of the USB adapter behind a tty; empty if it is none.
std::string identity(std::string const& tty, std::string const& root) {
    std::error_code ignored;
    auto folder = fs::canonical(below(root, "/sys/class/tty/" + tty + "/device"), ignored);
    if (ignored) return {};
    std::string interface;
    for (int up = 0; up < 6 && folder.has_relative_path(); ++up, folder = folder.parent_path()) {
        if (interface.empty()) interface = first_line(folder / "bInterfaceNumber");
        auto const vendor = first_line(folder / "idVendor");
        if (!vendor.empty())
            return vendor + ":" + first_line(folder / "idProduct") + ":" + first_line(folder / "serial") +
                   ":" + interface;
    }
    return {};
}

std::string group_name(gid_t id) {
    std::vector<char> space(16384);
    group entry{};
    group* found = nullptr;
    if (getgrgid_r(id, &entry, space.data(), space.size(), &found) == 0 && found) return found->gr_name;
    return std::to_string(id);
}

}  // namespace

std::string moving_name_warning(std::string const& path, std::string const& root) {
    auto const name = fs::path(path).filename().string();
    bool const bare =
        fs::path(path).parent_path() == "/dev" && (name.starts_with("ttyUSB") || name.starts_with("ttyACM"));
    if (!bare) return {};
    auto stable = link_to(below(root, path), "by-id", root);
    if (stable.empty() || !ambiguous_name(stable, root).empty())
        stable = link_to(below(root, path), "by-path", root);
    return path + " is given by the order of plugging and can move" +
           (stable.empty() ? "; use its link under /dev/serial/by-id or /dev/serial/by-path"
                           : "; use " + stable);
}

std::string ambiguous_name(std::string const& path, std::string const& root) {
    if (fs::path(path).parent_path().filename() != "by-id") return {};
    std::error_code ignored;
    auto const device = fs::canonical(below(root, path), ignored);
    if (ignored) return {};
    auto const tty = device.filename().string();
    auto const mine = identity(tty, root);
    if (mine.empty()) return {};
    for (auto const& entry : fs::directory_iterator(below(root, "/sys/class/tty"), ignored)) {
        auto const other = entry.path().filename().string();
        if (other == tty || identity(other, root) != mine) continue;
        auto const stable = link_to(device, "by-path", root);
        return path + " is ambiguous: " + tty + " and " + other +
               " have the same identity; use the link by-path" + (stable.empty() ? "" : ", now " + stable);
    }
    return {};
}

std::vector<SerialName> serial_names(std::string const& root) {
    std::map<std::string, SerialName> by_device;
    for (auto const* kind : {"by-id", "by-path"}) {
        std::error_code ignored;
        auto const folder = "/dev/serial/" + std::string(kind);
        std::vector<std::string> links;
        for (auto const& entry : fs::directory_iterator(below(root, folder), ignored))
            links.push_back(folder + "/" + entry.path().filename().string());
        std::ranges::sort(links);
        for (auto const& link : links) {
            auto const device = fs::canonical(below(root, link), ignored);
            if (ignored) continue;
            auto& name = by_device[device.string()];
            if (name.also.empty()) name.also.push_back("/dev/" + device.filename().string());
            bool const good = name.stable.empty() && ambiguous_name(link, root).empty();
            if (good)
                name.stable = link;
            else
                name.also.push_back(link);
        }
    }
    std::vector<SerialName> names;
    for (auto& [device, name] : by_device)
        if (!name.stable.empty()) names.push_back(std::move(name));
    return names;
}

std::string group_of_file_and_process(std::string const& path) {
    struct stat info {};
    std::string text;
    if (stat(path.c_str(), &info) == 0) text = "the group " + group_name(info.st_gid);
    std::vector<gid_t> groups(static_cast<std::size_t>(std::max(0, getgroups(0, nullptr))));
    auto const count = getgroups(static_cast<int>(groups.size()), groups.data());
    groups.resize(static_cast<std::size_t>(std::max(0, count)));
    std::string mine = group_name(getegid());
    for (auto const id : groups)
        if (id != getegid()) mine += ", " + group_name(id);
    return text + (text.empty() ? "" : "; ") + "this process belongs to " + mine;
}

}  // namespace ingle
