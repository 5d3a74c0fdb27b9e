// Thermometers on the kernel's 1-Wire bus. A read blocks for the conversion, so each has its own thread.
#include <stdexcept>

#include "drivers/bus/polling.hpp"
#include "drivers/bus/sysfs.hpp"
#include "drivers/w1/decode.hpp"

namespace ingle {
namespace {

constexpr OptionInfo options[] = {
    {"id", OptionKind::text, true, "", {}, 0, 0, "the sensor's number, as 28-000000000001"},
    {"root", OptionKind::text, false, sysfs_root, {}, 0, 0, "folder that stands in for /sys"},
};
constexpr std::string_view shared[] = {"id", "root"};
constexpr int attempts = 3;  // in one cycle; a bit is lost now and then on a long cable

class W1Device final : public PolledDevice {
public:
    W1Device(std::string id, std::string const& root)
        : family_(id.substr(0, 2)), path_(root + "/bus/w1/devices/" + id + "/w1_slave") {}

    Polled read(std::size_t) override {
        Polled polled;
        for (int attempt = 1;; ++attempt) {
            auto const file = read_text(path_);
            auto const now = BootClock::now();
            if (file.error != 0) {
                polled.reading = Reading{now, file_fault(path_, file.error), {}, {}, false};
                return polled;
            }
            auto sample = decode_w1_slave(file.text, family_);
            if (auto* fault = std::get_if<Fault>(&sample)) {
                if (fault->kind == FaultKind::garbled && attempt < attempts) continue;
                polled.reading = Reading{now, *std::move(fault), {}, {}, false};
            } else {
                polled.reading = rule_.judge(now, std::get<W1Sample>(sample));
                if (!polled.reading->ok())
                    polled.events.emplace_back("start-up-value-ignored", polled.reading->fault().reason);
            }
            return polled;
        }
    }

private:
    std::string family_, path_;
    PowerOnRule rule_;
};

std::shared_ptr<Driver> make(DriverContext context, std::vector<ProbeWiring> probes) {
    auto const id = probes.front().options.text("id");
    if (!is_w1_id(id))
        throw std::runtime_error("\"" + id + "\" is no 1-Wire thermometer; an id looks like 28-000000000001");
    auto device = std::make_unique<W1Device>(id, probes.front().options.text("root", sysfs_root));
    return std::make_shared<PollingDriver>(std::move(context), std::move(probes), std::move(device));
}

}  // namespace

extern DriverInfo const w1_driver;
DriverInfo const w1_driver{"w1", "thermometers on the kernel's 1-Wire bus", options, shared, make};

}  // namespace ingle
