// The GPIO lines on libgpiod 1.6.
#include <gpiod.hpp>

#include <cerrno>
#include <charconv>
#include <system_error>
#include <utility>

#include "drivers/bus/gpio_line.hpp"

namespace ingle {
namespace {

constexpr char consumer[] = "ingle";

[[noreturn]] void fail(int error, std::string const& what) {
    throw std::system_error(error, std::system_category(), what);
}

gpiod::chip open_chip(std::string const& wanted) {
    if (wanted.starts_with("/")) return gpiod::chip(wanted, gpiod::chip::OPEN_BY_PATH);
    std::string seen;
    for (int number = 0; number < 64; ++number) {  // more than any board has
        try {
            gpiod::chip chip("/dev/gpiochip" + std::to_string(number), gpiod::chip::OPEN_BY_PATH);
            if (chip.label() == wanted || chip.name() == wanted) return chip;
            seen += (seen.empty() ? "" : ", ") + chip.label();
        } catch (std::system_error const& error) {
            if (error.code().value() == EACCES) throw;
        }
    }
    fail(ENOENT, "no GPIO chip is labelled \"" + wanted + "\"" + (seen.empty() ? "" : "; there are " + seen));
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
        : name(address.chip + " line " + address.line),
          chip(open_chip(address.chip)),
          line(find_line(chip, address)) {
        try {
            line.request(request, 0);
        } catch (std::system_error const& error) {
            auto holder = line.consumer();
            if (error.code().value() == EBUSY && holder.empty()) holder = "another program";
            fail(error.code().value(),
                 name + (error.code().value() == EBUSY ? " is held by " + holder : ": cannot be requested"));
        }
    }
    ~Held() {
        if (line.is_requested()) line.release();
    }
    Held(Held const&) = delete;
    std::string name;
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
