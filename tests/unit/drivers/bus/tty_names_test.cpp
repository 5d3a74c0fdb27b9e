#include "drivers/bus/tty_names.hpp"

#include <fstream>

#include "tests/support/catch.hpp"
#include "tests/support/pty.hpp"

using namespace ingle;
namespace fs = std::filesystem;

namespace {

// A machine with USB serial adapters, as its links and sysfs would show it.
class Machine {
public:
    void adapter(std::string const& tty, std::string const& socket, std::string const& serial) {
        auto const usb = root / ("sys/devices/usb1/" + socket);
        auto const interface = usb + "/" + socket + ":1.0";
        fs::create_directories(interface + "/" + tty);
        put(usb + "/idVendor", "1a86");
        put(usb + "/idProduct", "7523");
        if (!serial.empty()) put(usb + "/serial", serial);
        put(interface + "/bInterfaceNumber", "00");
        fs::create_directories(root / ("sys/class/tty/" + tty));
        fs::create_directory_symlink(interface + "/" + tty, root / ("sys/class/tty/" + tty + "/device"));
        fs::create_directories(root / "dev/serial/by-id");
        fs::create_directories(root / "dev/serial/by-path");
        put(root / ("dev/" + tty), "");
        test::relink(root / ("dev/" + tty), root / ("dev/serial/by-path/usb-" + socket));
        test::relink(root / ("dev/" + tty),
                     root / ("dev/serial/by-id/usb-" + (serial.empty() ? "1a86" : serial)));
    }
    static void put(std::string const& path, std::string const& text) { std::ofstream(path) << text << "\n"; }
    test::TempFolder root;
};

}  // namespace

// field case B7
TEST_CASE("a bare number is warned of, with the stable name to write instead (B7)") {
    Machine machine;
    machine.adapter("ttyUSB0", "1-2", "A50285");
    CHECK_THAT(moving_name_warning("/dev/ttyUSB0", machine.root.path()),
               INGLE_CONTAINS("/dev/serial/by-id/usb-A50285"));
    CHECK_THAT(moving_name_warning("/dev/ttyACM7", machine.root.path()), INGLE_CONTAINS("by-id"));
    CHECK(moving_name_warning("/dev/serial/by-id/usb-A50285", machine.root.path()).empty());
    CHECK(moving_name_warning("/dev/ttyS0", machine.root.path()).empty());
    CHECK(ambiguous_name("/dev/serial/by-id/usb-A50285", machine.root.path()).empty());
}

// field case B8
TEST_CASE("two adapters of one identity are refused by id and told apart by path (B8)") {
    for (bool const swapped : {false, true}) {
        Machine machine;
        machine.adapter(swapped ? "ttyUSB1" : "ttyUSB0", "1-2", "");
        machine.adapter(swapped ? "ttyUSB0" : "ttyUSB1", "1-3", "");
        auto const why = ambiguous_name("/dev/serial/by-id/usb-1a86", machine.root.path());
        CHECK_THAT(why, INGLE_CONTAINS("ttyUSB0"));
        CHECK_THAT(why, INGLE_CONTAINS("ttyUSB1"));
        CHECK_THAT(why, INGLE_CONTAINS("/dev/serial/by-path/usb-1-3"));
        CHECK(ambiguous_name("/dev/serial/by-path/usb-1-2", machine.root.path()).empty());
        CHECK_THAT(moving_name_warning("/dev/ttyUSB0", machine.root.path()),
                   INGLE_CONTAINS(swapped ? "by-path/usb-1-3" : "by-path/usb-1-2"));
    }
}

TEST_CASE("ports are listed by the name that stays, and by path where two share a name") {
    Machine one;
    one.adapter("ttyUSB0", "1-2", "A50285");
    auto names = serial_names(one.root.path());
    REQUIRE(names.size() == 1);
    CHECK(names[0].stable == "/dev/serial/by-id/usb-A50285");
    CHECK(names[0].also == std::vector<std::string>{"/dev/ttyUSB0", "/dev/serial/by-path/usb-1-2"});
    Machine twins;
    twins.adapter("ttyUSB0", "1-2", "");
    twins.adapter("ttyUSB1", "1-3", "");
    names = serial_names(twins.root.path());
    REQUIRE(names.size() == 2);
    CHECK(names[0].stable == "/dev/serial/by-path/usb-1-2");
    CHECK(names[1].stable == "/dev/serial/by-path/usb-1-3");
    test::TempFolder empty;
    CHECK(serial_names(empty.path()).empty());
}

TEST_CASE("the groups of a file and of this process have names") {
    CHECK_THAT(group_of_file_and_process("/dev/null"), INGLE_CONTAINS("the group root"));
    CHECK_THAT(group_of_file_and_process("/dev/null"), INGLE_CONTAINS("this process belongs to"));
}
