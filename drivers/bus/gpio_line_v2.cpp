// The GPIO lines on libgpiod 2.x.
#include <gpiod.hpp>

#include <cerrno>
#include <charconv>
#include <filesystem>
#include <system_error>
#include <utility>

#include "drivers/bus/gpio_chips.hpp"

namespace ingle {
namespace {

constexpr char consumer[] = "ingle";
constexpr int most_chips = 64;  // more than any board has

[[noreturn]] void fail(int error, std::string const& what) {
    throw std::system_error(error, std::system_category(), what);
}

gpiod::chip open_chip(std::string const& wanted) {
    return gpiod::chip(std::filesystem::path(path_of_chip(wanted, gpio_chips())));
}

unsigned find_line(gpiod::chip const& chip, LineAddress const& address) {
    unsigned offset = 0;
    auto const label = chip.get_info().label();
    auto const count = chip.get_info().num_lines();
    auto const end = address.line.data() + address.line.size();
    if (std::from_chars(address.line.data(), end, offset).ptr == end && !address.line.empty()) {
        if (offset >= count)
            fail(ENXIO, label + " has no line " + address.line + ", only " + std::to_string(count));
        return offset;
    }
    int const found = chip.get_line_offset_from_name(address.line);
    if (found < 0) fail(ENXIO, label + " has no line called \"" + address.line + "\"");
    return static_cast<unsigned>(found);
}

struct Held {
    Held(LineAddress const& address, gpiod::line_settings const& settings)
        : offset(0), request(make(address, settings, offset)) {}
    static gpiod::line_request make(LineAddress const& address, gpiod::line_settings const& settings,
                                    unsigned& offset) {
        auto chip = open_chip(address.chip);
        offset = find_line(chip, address);
        try {
            return chip.prepare_request()
                .set_consumer(consumer)
                .add_line_settings(offset, settings)
                .do_request();
        } catch (std::system_error const& error) {
            auto const why = error.code().value();
            fail(why, refusal_of(address, why, chip.get_line_info(offset).consumer()));
        }
    }
    unsigned offset;
    gpiod::line_request request;
};

gpiod::line_settings settings_of(gpiod::line::direction direction, bool active_low, Bias bias) {
    gpiod::line_settings settings;
    settings.set_direction(direction).set_active_low(active_low);
    if (bias == Bias::pull_up) settings.set_bias(gpiod::line::bias::PULL_UP);
    if (bias == Bias::pull_down) settings.set_bias(gpiod::line::bias::PULL_DOWN);
    if (direction == gpiod::line::direction::OUTPUT) settings.set_output_value(gpiod::line::value::INACTIVE);
    return settings;
}

}  // namespace

std::vector<GpioChip> gpio_chips() {
    std::vector<GpioChip> found;
    for (int number = 0; number < most_chips; ++number) {
        std::filesystem::path const path = "/dev/gpiochip" + std::to_string(number);
        try {
            if (!gpiod::is_gpiochip_device(path)) continue;
            gpiod::chip const chip(path);
            auto const info = chip.get_info();
            found.push_back({path.string(), info.label(), static_cast<unsigned>(info.num_lines())});
        } catch (std::system_error const& error) {
            if (error.code().value() == EACCES) found.push_back({path.string(), {}, 0, true});
        }
    }
    return found;
}

struct OutputLine::Impl : Held {
    using Held::Held;
};
struct InputLine::Impl : Held {
    using Held::Held;
};

OutputLine::OutputLine(LineAddress const& address, bool active_low)
    : impl_(std::make_unique<Impl>(address,
                                   settings_of(gpiod::line::direction::OUTPUT, active_low, Bias::as_is))) {}

OutputLine::~OutputLine() {
    try {
        impl_->request.set_value(impl_->offset, gpiod::line::value::INACTIVE);
    } catch (...) {  // unplugged: there is nothing left to switch off
    }
}

void OutputLine::set(bool on) {
    impl_->request.set_value(impl_->offset, on ? gpiod::line::value::ACTIVE : gpiod::line::value::INACTIVE);
}

InputLine::InputLine(LineAddress const& address, bool active_low, Bias bias)
    : impl_(std::make_unique<Impl>(address, settings_of(gpiod::line::direction::INPUT, active_low, bias))) {}

InputLine::~InputLine() = default;

bool InputLine::get() {
    return impl_->request.get_value(impl_->offset) == gpiod::line::value::ACTIVE;
}

}  // namespace ingle
