// Temperatures of the kernel's hardware monitoring chips.
#include <algorithm>
#include <stdexcept>

#include "drivers/bus/polling.hpp"
#include "drivers/bus/sysfs.hpp"
#include "drivers/hwmon/decode.hpp"

namespace ingle {
namespace {

constexpr OptionInfo options[] = {
    {"device", OptionKind::text, true, "", {}, 0, 0, "the chip's name (\"lm75\", \"lm75@1-0048\") or number"},
    {"channel", OptionKind::text, false, "temp1", {}, 0, 0, "temp1, temp2, ... or a label"},
    {"root", OptionKind::text, false, sysfs_root, {}, 0, 0, "folder that stands in for /sys"},
};

class HwmonDevice final : public PolledDevice {
public:
    HwmonDevice(std::string root, std::string device, std::string channel)
        : parent_(std::move(root) + "/class/hwmon"),
          device_(std::move(device)),
          channel_(std::move(channel)) {}

    // Numbers change when a chip goes and comes: it is looked up by name each time.
    Polled read(std::size_t) override {
        auto const found = find_device(parent_, "hwmon", device_);
        if (found.fault) return {Reading{BootClock::now(), *found.fault, {}, {}, false}, {}, {}};
        auto const base = found.path + "/" + channel_in(found.path);
        HwmonFiles files{read_text(base + "_input"), read_text(base + "_fault"), read_text(base + "_enable")};
        return {Reading{BootClock::now(), decode_hwmon(base, files), {}, {}, false}, {}, {}};
    }

private:
    std::string channel_in(std::string const& folder) const {
        for (auto const& name : folder_names(folder))
            if (name.starts_with("temp") && name.ends_with("_label") &&
                read_text(folder + "/" + name).text == channel_)
                return name.substr(0, name.size() - std::string_view("_label").size());
        return channel_;
    }
    std::string parent_, device_, channel_;
};

std::shared_ptr<Driver> make(DriverContext context, std::vector<ProbeWiring> probes) {
    auto const& own = probes.front().options;
    auto device = std::make_unique<HwmonDevice>(own.text("root", sysfs_root), own.text("device"),
                                                own.text("channel", "temp1"));
    return std::make_shared<PollingDriver>(std::move(context), std::move(probes), std::move(device));
}

std::vector<Found> find(std::string const& root) {
    std::vector<Found> found;
    constexpr std::string_view end = "_input";
    for (auto const& folder : device_folders(root + "/sys/class/hwmon", "hwmon"))
        for (auto const& file : folder_names(folder.path)) {
            if (!file.starts_with("temp") || !file.ends_with(end)) continue;
            auto const channel = file.substr(0, file.size() - end.size());
            auto const label = read_text(folder.path + "/" + channel + "_label").text;
            auto const name = folder.full_name();
            HwmonDevice device(root + "/sys", folder.folder, channel);
            found.push_back({"chip " + name + ", " + channel + (label.empty() ? "" : " (" + label + ")") +
                                 value_now(device),
                             {{"device", name, {folder.folder, folder.folder.substr(5), folder.name}},
                              {"channel", channel, {label}}}});
        }
    return found;
}

constexpr std::string_view shared[] = {"device", "channel", "root"};

}  // namespace

extern DriverInfo const hwmon_driver;
DriverInfo const hwmon_driver{
    "hwmon", "temperatures of the kernel's hardware monitoring chips", options, shared, make, find};

}  // namespace ingle
