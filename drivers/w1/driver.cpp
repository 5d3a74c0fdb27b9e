// Thermometers on the kernel's 1-Wire bus. A read blocks for the conversion, so each has its own thread.
#include <optional>
#include <stdexcept>
#include <thread>

#include "drivers/bus/polling.hpp"
#include "drivers/bus/sysfs.hpp"
#include "drivers/w1/decode.hpp"
#include "drivers/w1/supply.hpp"

namespace ingle {
namespace {

constexpr std::string_view levels[] = {"low", "high"};
constexpr OptionInfo options[] = {
    {"id", OptionKind::text, true, "", {}, 0, 0, "the sensor's number, as 28-000000000001"},
    {"root", OptionKind::text, false, sysfs_root, {}, 0, 0, "folder that stands in for /sys"},
    {"supply-chip",
     OptionKind::text,
     false,
     "",
     {},
     0,
     0,
     "GPIO chip of a line that can cut the sensors' supply: its path or its label"},
    {"supply-line",
     OptionKind::text,
     false,
     "",
     {},
     0,
     0,
     "that line: while it is driven, the supply is off; used when a sensor stays silent"},
    {"supply-cut", OptionKind::text, false, "high", levels, 0, 0, "level of the line that cuts the supply"},
};
constexpr std::string_view shared[] = {"id", "root"};
constexpr int attempts = 3;  // in one cycle; a bit is lost now and then on a long cable

class W1Device final : public PolledDevice {
public:
    W1Device(std::string id, std::string const& root, std::shared_ptr<Supply> supply = {})
        : family_(id.substr(0, 2)),
          path_(root + "/bus/w1/devices/" + id + "/w1_slave"),
          supply_(std::move(supply)) {}

    Polled read(std::size_t) override {
        auto polled = ask();
        auto const now = BootClock::now();
        if (polled.reading->ok()) {
            lost_.reset();
        } else if (supply_) {
            if (!lost_) lost_ = now;
            auto done = supply_->cycle(*lost_, now, [](auto length) { std::this_thread::sleep_for(length); });
            if (!done.empty()) polled.events.emplace_back("supply-cycled", std::move(done));
        }
        return polled;
    }

    // The sensors of one bus convert in turn, 0.75 s each, and a garbled answer is asked for again.
    Span longest_wait() const override { return std::chrono::seconds(10); }

private:
    Polled ask() {
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
                polled.reading = Reading{now, *fault, {}, {}, false};
            } else {
                polled.reading = rule_.judge(now, std::get<W1Sample>(sample));
                if (!polled.reading->ok())
                    polled.events.emplace_back("start-up-value-ignored", polled.reading->fault().reason);
            }
            return polled;
        }
    }

    std::string family_, path_;
    PowerOnRule rule_;
    std::shared_ptr<Supply> supply_;  // null: cannot be cut
    std::optional<Instant> lost_;
};

std::shared_ptr<Driver> make(DriverContext context, std::vector<ProbeWiring> probes) {
    auto const id = probes.front().options.text("id");
    if (!is_w1_id(id))
        throw std::runtime_error("\"" + id + "\" is no 1-Wire thermometer; an id looks like 28-000000000001");
    auto const& own = probes.front().options;
    LineAddress const cut{own.text("supply-chip"), own.text("supply-line")};
    if (cut.chip.empty() != cut.line.empty())
        throw std::runtime_error("probe \"" + probes.front().name +
                                 "\": supply-chip and supply-line come together or not at all");
    std::shared_ptr<Supply> supply;
    if (!cut.chip.empty()) {
        auto const name = "w1 supply\n" + cut.chip + "\n" + cut.line;
        supply = context.commons ? context.commons->find_or_make<Supply>(name) : std::make_shared<Supply>();
        supply->use(cut_through(cut, own.text("supply-cut") == "low"));
    }
    auto device = std::make_unique<W1Device>(id, own.text("root", sysfs_root), std::move(supply));
    return std::make_shared<PollingDriver>(std::move(context), std::move(probes), std::move(device));
}

std::vector<Found> find(std::string const& root) {
    std::vector<Found> found;
    for (auto const& id : folder_names(root + "/sys/bus/w1/devices")) {
        if (!is_w1_id(id)) continue;
        W1Device device(id, root + "/sys");
        found.push_back({"1-Wire thermometer " + id + value_now(device), {{"id", id}}});
    }
    return found;
}

}  // namespace

extern DriverInfo const w1_driver;
DriverInfo const w1_driver{"w1", "thermometers on the kernel's 1-Wire bus", options, shared, make, find};

}  // namespace ingle
