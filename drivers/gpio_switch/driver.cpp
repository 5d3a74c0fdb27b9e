// A real switch on a GPIO line: a lid or door contact, an acknowledge button.
#include <system_error>

#include "drivers/bus/gpio_line.hpp"
#include "drivers/bus/polling.hpp"
#include "drivers/bus/sysfs.hpp"

namespace ingle {
namespace {

constexpr std::string_view biases[] = {"as-is", "pull-up", "pull-down"};
constexpr std::string_view levels[] = {"low", "high"};
constexpr OptionInfo options[] = {
    {"chip", OptionKind::text, true, "", {}, 0, 0, "GPIO chip: its path or its label"},
    {"line", OptionKind::text, true, "", {}, 0, 0, "offset or name of the line"},
    {"closed", OptionKind::text, false, "low", levels, 0, 0, "level of the line while the switch is closed"},
    {"bias", OptionKind::text, false, "pull-up", biases, 0, 0, "resistor in the chip"},
};
constexpr std::string_view shared[] = {"chip", "line"};
constexpr Span look{20};         // contacts bounce for some 10 ms:
constexpr int looks_needed = 3;  // this many looks in a row must agree

class Switch final : public PolledDevice {
public:
    Switch(LineAddress address, bool closed_is_low, Bias bias)
        : address_(std::move(address)), closed_is_low_(closed_is_low), bias_(bias) {}

    Polled read(std::size_t) override {
        try {
            if (!line_) line_ = std::make_unique<InputLine>(address_, closed_is_low_, bias_);
            bool const closed = line_->get();
            seen_ = closed == last_ ? seen_ + 1 : 1;
            last_ = closed;
            failing_ = false;
            if (seen_ != looks_needed || told_ == closed) return {};
            told_ = closed;
            return {{}, closed, {}};
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
    std::optional<bool> told_;
    bool last_ = false, failing_ = false;
    int seen_ = 0;
};

std::shared_ptr<Driver> make(DriverContext context, std::vector<ProbeWiring> probes) {
    auto const& own = probes.front().options;
    auto const bias = own.text("bias", "pull-up");
    auto device = std::make_unique<Switch>(LineAddress{own.text("chip"), own.text("line")},
                                           own.text("closed", "low") == "low",
                                           bias == "pull-up"     ? Bias::pull_up
                                           : bias == "pull-down" ? Bias::pull_down
                                                                 : Bias::as_is);
    for (auto& probe : probes) probe.every = look;
    return std::make_shared<PollingDriver>(std::move(context), std::move(probes), std::move(device));
}

}  // namespace

extern DriverInfo const gpio_switch_driver;
DriverInfo const gpio_switch_driver{"gpio-switch", "a lid or door switch on a GPIO line", options, shared,
                                    make};

}  // namespace ingle
