// The GPIO lines of a build without libgpiod: there are none.
#include <cerrno>
#include <system_error>

#include "drivers/bus/gpio_chips.hpp"

namespace ingle {
namespace {

[[noreturn]] void none() {
    throw std::system_error(ENOSYS, std::system_category(), "libgpiod was not there when Ingle was built");
}

}  // namespace

std::vector<GpioChip> gpio_chips() {
    return {};
}

struct OutputLine::Impl {};
struct InputLine::Impl {};

OutputLine::OutputLine(LineAddress const&, bool) {
    none();
}
OutputLine::~OutputLine() = default;
void OutputLine::set(bool) {
    none();
}
InputLine::InputLine(LineAddress const&, bool, Bias) {
    none();
}
InputLine::~InputLine() = default;
bool InputLine::get() {
    none();
}

}  // namespace ingle
