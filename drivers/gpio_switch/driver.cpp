// A real switch on a GPIO line: a lid or door contact, an acknowledge button.
#include <system_error>

#include "drivers/bus/gpio_line.hpp"
#include "drivers/bus/polling.hpp"
#include "drivers/bus/sysfs.hpp"
#include "drivers/gpio_switch/contacts.hpp"

namespace ingle {
namespace {

constexpr std::string_view biases[] = {"as-is", "pull-up", "pull-down"};
constexpr std::string_view levels[] = {"low", "high"};
constexpr OptionInfo options[] = {
    {"chip", OptionKind::text, true, "", {}, 0, 0, "GPIO chip: its path or its label"},
    {"line", OptionKind::text, true, "", {}, 0, 0, "offset or name of the line"},
    {"closed", OptionKind::text, false, "low", levels, 0, 0, "level of the line while the switch is closed"},
    {"bias", OptionKind::text, false, "pull-up", biases, 0, 0, "resistor in the chip"},
    {"acknowledges",
     OptionKind::boolean,
     false,
     "false",
     {},
     0,
     0,
     "true: a button that acknowledges every alarm when it is pressed"},
};
constexpr std::string_view shared[] = {"chip", "line"};

class Switch final : public PolledDevice {
public:
    Switch(LineAddress address, bool closed_is_low, Bias bias, bool button)
        : address_(std::move(address)), closed_is_low_(closed_is_low), bias_(bias), contacts_(button) {}

    Polled read(std::size_t) override {
        try {
            if (!line_) line_ = std::make_unique<InputLine>(address_, closed_is_low_, bias_);
            auto const changed = contacts_.look(line_->get());
            if (std::exchange(failing_, false))
                return {{}, changed, {{"switch-found", "the switch can be read again"}}};
            return {{}, changed, {}};
        } catch (std::system_error const& error) {
            line_.reset();
            if (std::exchange(failing_, true)) return {};
            return {{}, {}, {{"switch-lost", error.what()}}};
        }
    }

private:
    LineAddress address_;
    bool closed_is_low_;
    Bias bias_;
    std::unique_ptr<InputLine> line_;
    Contacts contacts_;
    bool failing_ = false;
};

std::shared_ptr<Driver> make(DriverContext context, std::vector<ProbeWiring> probes) {
    auto const& own = probes.front().options;
    auto const bias = own.text("bias", "pull-up");
    auto device = std::make_unique<Switch>(LineAddress{own.text("chip"), own.text("line")},
                                           own.text("closed", "low") == "low",
                                           bias == "pull-up"     ? Bias::pull_up
                                           : bias == "pull-down" ? Bias::pull_down
                                                                 : Bias::as_is,
                                           own.flag("acknowledges"));
    for (auto& probe : probes) probe.every = Contacts::look_every;
    return std::make_shared<PollingDriver>(std::move(context), std::move(probes), std::move(device));
}

}  // namespace

extern DriverInfo const gpio_switch_driver;
DriverInfo const gpio_switch_driver{
    "gpio-switch", "a lid or door switch, or an acknowledge button, on a GPIO line",
    options,       shared,
    make,          nullptr,
    true};

}  // namespace ingle
