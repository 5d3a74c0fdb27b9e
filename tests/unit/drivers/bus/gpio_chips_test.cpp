#include "drivers/bus/gpio_chips.hpp"

#include <cerrno>
#include <system_error>

#include "tests/support/catch.hpp"

using namespace ingle;

namespace {

int error_of(std::string const& wanted, std::vector<GpioChip> const& chips) {
    try {
        (void)path_of_chip(wanted, chips);
    } catch (std::system_error const& error) {
        return error.code().value();
    }
    return 0;
}

}  // namespace

// field case B15
TEST_CASE("the pin controller has another number after an update: it is found by its label") {
    std::vector<GpioChip> const before{{"/dev/gpiochip0", "expander", 8}, {"/dev/gpiochip4", "header", 54}};
    std::vector<GpioChip> const after{{"/dev/gpiochip0", "header", 54}, {"/dev/gpiochip1", "expander", 8}};
    CHECK(path_of_chip("header", before) == "/dev/gpiochip4");
    CHECK(path_of_chip("header", after) == "/dev/gpiochip0");
    CHECK(path_of_chip("gpiochip1", after) == "/dev/gpiochip1");
    CHECK(path_of_chip("/dev/gpiochip7", after) == "/dev/gpiochip7");  // as written, whatever it is
    CHECK(error_of("heater", after) == ENOENT);
    CHECK_THROWS_WITH(path_of_chip("heater", after), INGLE_CONTAINS("there are header, expander"));
}

// field case B15
TEST_CASE("a line that is busy names its holder") {
    CHECK(refusal_of({"header", "GPIO11"}, EBUSY, "fan-control") ==
          "header line GPIO11 is held by fan-control");
    CHECK_THAT(refusal_of({"header", "GPIO11"}, EBUSY, ""), INGLE_CONTAINS("held by another program"));
    CHECK_THAT(refusal_of({"header", "GPIO11"}, EINVAL, "fan-control"),
               INGLE_CONTAINS("cannot be requested"));
}

TEST_CASE("two chips of one label are refused, and one that may not be looked at is no \"absent\"") {
    std::vector<GpioChip> const twins{{"/dev/gpiochip0", "expander", 8}, {"/dev/gpiochip1", "expander", 8}};
    CHECK(error_of("expander", twins) == ENOTUNIQ);
    CHECK_THROWS_WITH(path_of_chip("expander", twins), INGLE_CONTAINS("/dev/gpiochip1"));
    CHECK(path_of_chip("gpiochip1", twins) == "/dev/gpiochip1");
    std::vector<GpioChip> const closed{{"/dev/gpiochip0", "header", 54}, {"/dev/gpiochip1", "", 0, true}};
    CHECK(path_of_chip("header", closed) == "/dev/gpiochip0");
    CHECK(error_of("expander", closed) == EACCES);
    CHECK_THROWS_WITH(path_of_chip("expander", closed), INGLE_CONTAINS("/dev/gpiochip1"));
    // On this machine, whatever it has: nothing is taken, nothing is thrown.
    for (auto const& chip : gpio_chips()) CHECK(chip.path.starts_with("/dev/gpiochip"));
}
