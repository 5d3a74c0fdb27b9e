// The GPIO chips of this machine, and which of them an address means: their numbers move with the kernel,
// their labels do not. Any thread.
#pragma once

#include <span>
#include <string>
#include <vector>

#include "drivers/bus/gpio_line.hpp"

namespace ingle {

struct GpioChip {
    std::string path, label;
    unsigned lines = 0;
    bool refused = false;  // this process may not open it; label and lines are not known
};

std::vector<GpioChip> gpio_chips();  // by number; takes no line

// The path of the chip called `wanted`: a path, a label, or "gpiochip0". Throws std::system_error with a
// sentence: no such chip (and which there are), two of one label, or one that could not be looked at.
std::string path_of_chip(std::string const& wanted, std::span<GpioChip const> chips);

// Why a line could not be requested: `holder` is who has it, as the kernel tells.
std::string refusal_of(LineAddress const& address, int error, std::string const& holder);

}  // namespace ingle
