#include "drivers/bus/gpio_chips.hpp"

#include <cerrno>
#include <system_error>

namespace ingle {
namespace {

[[noreturn]] void fail(int error, std::string const& what) {
    throw std::system_error(error, std::system_category(), what);
}

}  // namespace

std::string path_of_chip(std::string const& wanted, std::span<GpioChip const> chips) {
    if (wanted.starts_with("/")) return wanted;
    std::string found, seen, refused;
    for (auto const& chip : chips) {
        if (chip.refused) refused += (refused.empty() ? "" : ", ") + chip.path;
        if (chip.label != wanted && chip.path != "/dev/" + wanted) {
            if (!chip.refused) seen += (seen.empty() ? "" : ", ") + chip.label;
            continue;
        }
        if (!found.empty())
            fail(ENOTUNIQ, "two GPIO chips are labelled \"" + wanted + "\": " + found + " and " + chip.path +
                               "; name the one that you mean by its path");
        found = chip.path;
    }
    if (!found.empty()) return found;
    if (!refused.empty()) fail(EACCES, "this process may not look at " + refused);
    fail(ENOENT, "no GPIO chip is labelled \"" + wanted + "\"" + (seen.empty() ? "" : "; there are " + seen));
}

std::string refusal_of(LineAddress const& address, int error, std::string const& holder) {
    auto const name = address.chip + " line " + address.line;
    if (error != EBUSY) return name + ": cannot be requested";
    return name + " is held by " + (holder.empty() ? "another program" : holder);
}

}  // namespace ingle
