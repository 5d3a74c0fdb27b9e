// Temperatures of the kernel's industrial I/O devices: thermocouple chips and converters with their own
// driver.
#include <set>
#include <stdexcept>

#include "drivers/bus/polling.hpp"
#include "drivers/bus/sysfs.hpp"
#include "drivers/iio/decode.hpp"

namespace ingle {
namespace {

constexpr std::string_view types[] = {"B", "E", "J", "K", "N", "R", "S", "T"};
constexpr OptionInfo options[] = {
    {"device",
     OptionKind::text,
     true,
     "",
     {},
     0,
     0,
     "the device's name (\"max31856\", \"max31856@spi0.1\") or number"},
    {"channel", OptionKind::text, false, "temp", {}, 0, 0, "temp, temp_ambient, temp1, ..."},
    {"type", OptionKind::text, false, "", types, 0, 0, "thermocouple type, where the kernel does not say it"},
    {"root", OptionKind::text, false, sysfs_root, {}, 0, 0, "folder that stands in for /sys"},
};
constexpr std::string_view shared[] = {"device", "channel", "root"};

class IioDevice final : public PolledDevice {
public:
    IioDevice(std::string root, std::string device, std::string channel, std::optional<ThermocoupleType> type)
        : parent_(std::move(root) + "/bus/iio/devices"),
          device_(std::move(device)),
          channel_(channel.starts_with("in_") ? channel : "in_" + channel),
          type_(type) {}

    Polled read(std::size_t) override {
        auto const found = find_device(parent_, "iio:device", device_);
        if (found.fault) return {Reading{BootClock::now(), *found.fault, {}, {}, false}, {}, {}};
        auto const base = found.path + "/";
        IioFiles files;
        files.name = found.name;
        files.hot = channel(base + channel_, base + "in_temp_scale");
        bool const is_hot = channel_ == "in_temp";
        files.cold = is_hot ? channel(base + "in_temp_ambient", base + "in_temp_scale")
                            : IioChannel{{}, {{}, 2}, {}, {}};
        if (!is_hot) files.cold.input.error = 2;
        if (is_hot) {
            files.fault_oc = read_text(base + "fault_oc");
            files.fault_ovuv = read_text(base + "fault_ovuv");
        }
        auto const told = thermocouple_type_from(read_text(base + "in_temp_thermocouple_type").text);
        if (told && type_ && *told != *type_)
            return {Reading::faulty(BootClock::now(), FaultKind::garbled,
                                    std::string("the kernel drives a type ") + letter_of(*told) +
                                        " thermocouple, the kitchen file says type " + letter_of(*type_)),
                    {},
                    {}};
        files.type = type_ ? type_ : told;
        return {decode_iio(BootClock::now(), files), {}, {}};
    }

private:
    static IioChannel channel(std::string const& base, std::string const& shared_scale) {
        IioChannel found{
            read_text(base + "_input"), {}, read_text(base + "_offset"), read_text(base + "_scale")};
        if (found.input.error != 0) found.raw = read_text(base + "_raw");
        if (found.scale.error != 0) found.scale = read_text(shared_scale);
        return found;
    }

    std::string parent_, device_, channel_;
    std::optional<ThermocoupleType> type_;
};

std::shared_ptr<Driver> make(DriverContext context, std::vector<ProbeWiring> probes) {
    auto const& own = probes.front().options;
    auto device =
        std::make_unique<IioDevice>(own.text("root", sysfs_root), own.text("device"),
                                    own.text("channel", "temp"), thermocouple_type_from(own.text("type")));
    return std::make_shared<PollingDriver>(std::move(context), std::move(probes), std::move(device));
}

// Temperatures end in _input or _raw: in_temp, in_temp_ambient, in_temp1, ...
std::vector<Found> find(std::string const& root) {
    std::vector<Found> found;
    auto const parent = root + "/sys/bus/iio/devices";
    for (auto const& folder : device_folders(parent, "iio:device")) {
        std::set<std::string> channels;
        for (auto const& file : folder_names(folder.path))
            for (std::string_view const end : {"_input", "_raw"})
                if (file.starts_with("in_temp") && file.ends_with(end))
                    channels.insert(file.substr(3, file.size() - 3 - end.size()));
        auto const name = folder.full_name();
        for (auto const& channel : channels) {
            IioDevice device(root + "/sys", folder.folder, channel, {});
            found.push_back(
                {"IIO device " + name + ", channel " + channel + value_now(device),
                 {{"device", name, {folder.folder, folder.folder.substr(10), folder.name, folder.label}},
                  {"channel", channel, {"in_" + channel}}}});
        }
    }
    return found;
}

}  // namespace

extern DriverInfo const iio_driver;
DriverInfo const iio_driver{
    "iio", "temperatures of the kernel's industrial I/O devices", options, shared, make, find};

}  // namespace ingle
