// The GPIO lines on libgpiod 1.6.
#include <gpiod.hpp>

#include <cerrno>
#include <charconv>
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
    return gpiod::chip(path_of_chip(wanted, gpio_chips()), gpiod::chip::OPEN_BY_PATH);
}

gpiod::line find_line(gpiod::chip const& chip, LineAddress const& address) {
    unsigned offset = 0;
    auto const end = address.line.data() + address.line.size();
    if (std::from_chars(address.line.data(), end, offset).ptr == end && !address.line.empty()) {
        if (offset >= chip.num_lines())
            fail(ENXIO, chip.label() + " has no line " + address.line + ", only " +
                            std::to_string(chip.num_lines()));
        return chip.get_line(offset);
    }
    auto line = chip.find_line(address.line);
    if (!line) fail(ENXIO, chip.label() + " has no line called \"" + address.line + "\"");
    return line;
}

// Held until release() or until the last copy of the chip goes: libgpiod 1.6 has no owner of a request.
struct Held {
    Held(LineAddress const& address, gpiod::line_request const& request)
        : chip(open_chip(address.chip)), line(find_line(chip, address)) {
        try {
            line.request(request, 0);
        } catch (std::system_error const& error) {
            auto const why = error.code().value();
            fail(why, refusal_of(address, why, line.consumer()));
        }
    }
    ~Held() {
        if (line.is_requested()) line.release();
    }
    Held(Held const&) = delete;
    gpiod::chip chip;
    gpiod::line line;
};

std::bitset<32> flags_of(bool active_low, Bias bias) {
    std::bitset<32> flags;
    if (active_low) flags |= gpiod::line_request::FLAG_ACTIVE_LOW;
    if (bias == Bias::pull_up) flags |= gpiod::line_request::FLAG_BIAS_PULL_UP;
    if (bias == Bias::pull_down) flags |= gpiod::line_request::FLAG_BIAS_PULL_DOWN;
    return flags;
}

}  // namespace

std::vector<GpioChip> gpio_chips() {
    std::vector<GpioChip> found;
    for (int number = 0; number < most_chips; ++number) {
        auto const path = "/dev/gpiochip" + std::to_string(number);
        try {
            gpiod::chip const chip(path, gpiod::chip::OPEN_BY_PATH);
            found.push_back({path, chip.label(), chip.num_lines()});
        } catch (std::system_error const& error) {
            if (error.code().value() == EACCES) found.push_back({path, {}, 0, true});
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
    : impl_(
          std::make_unique<Impl>(address, gpiod::line_request{consumer, gpiod::line_request::DIRECTION_OUTPUT,
                                                              flags_of(active_low, Bias::as_is)})) {}

OutputLine::~OutputLine() {
    try {
        impl_->line.set_value(0);
    } catch (...) {  // unplugged: there is nothing left to switch off
    }
}

void OutputLine::set(bool on) {
    impl_->line.set_value(on ? 1 : 0);
}

InputLine::InputLine(LineAddress const& address, bool active_low, Bias bias)
    : impl_(std::make_unique<Impl>(
          address,
          gpiod::line_request{consumer, gpiod::line_request::DIRECTION_INPUT, flags_of(active_low, bias)})) {}

InputLine::~InputLine() = default;

bool InputLine::get() {
    return impl_->line.get_value() != 0;
}

}  // namespace ingle
