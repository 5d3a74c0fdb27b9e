#include <cerrno>
#include <fstream>

#include "drivers/hwmon/decode.hpp"
#include "tests/support/catch.hpp"
#include "tests/support/driver_bench.hpp"
#include "tests/support/pty.hpp"

namespace ingle {
extern DriverInfo const hwmon_driver;
}

using namespace ingle;
using test::DriverBench;

namespace {

FileText const none{{}, ENOENT};
FaultKind kind(HwmonFiles const& files) {
    auto const result = decode_hwmon("temp1", files);
    REQUIRE(std::holds_alternative<Fault>(result));
    return std::get<Fault>(result).kind;
}

}  // namespace

// Meanings: Linux Documentation/hwmon/sysfs-interface.
TEST_CASE("milli-degC is read, and a chip that distrusts itself is distrusted") {
    CHECK(std::get<double>(decode_hwmon("temp1", {{"25000", 0}, none, none})) == 25.0);
    CHECK(std::get<double>(decode_hwmon("temp1", {{"-10000", 0}, {"0", 0}, {"1", 0}})) == -10.0);
    CHECK(kind({{"25000", 0}, {"1", 0}, none}) == FaultKind::unspecified);
    CHECK(kind({{"25000", 0}, none, {"0", 0}}) == FaultKind::no_reply);
    CHECK(kind({{"", ENODATA}, none, none}) == FaultKind::no_reply);
    CHECK(kind({{"", EIO}, none, none}) == FaultKind::no_reply);
    CHECK(kind({{"", 0}, none, none}) == FaultKind::no_reply);
    CHECK(kind({none, none, none}) == FaultKind::absent);
    CHECK(kind({{"", EACCES}, none, none}) == FaultKind::refused);
    CHECK(kind({{"warm", 0}, none, none}) == FaultKind::garbled);
    CHECK(kind({{"25000000", 0}, none, none}) == FaultKind::out_of_range);
}

TEST_CASE("a chip is followed by its name when its number changes; a channel by its label") {
    DriverBench bench;
    test::TempFolder root;
    auto const put = [&](std::string const& chip, std::string const& file, std::string const& text) {
        std::filesystem::create_directories(root / ("class/hwmon/" + chip));
        std::ofstream(root / ("class/hwmon/" + chip + "/" + file)) << text << "\n";
    };
    put("hwmon0", "name", "board");
    put("hwmon0", "temp1_input", "99000");
    put("hwmon3", "name", "lm75");
    put("hwmon3", "temp1_input", "1000");
    put("hwmon3", "temp2_input", "4500");
    put("hwmon3", "temp2_label", "fridge");
    Options options;
    options.set("device", std::string("lm75"));
    options.set("channel", std::string("fridge"));
    options.set("root", root.path());
    auto const driver = hwmon_driver.make(bench.context(), {DriverBench::probe(0, options, Span(20))});
    driver->start();
    REQUIRE(bench.run_until([&] { return bench.good(0).size() > 1; }));
    std::filesystem::rename(root / "class/hwmon/hwmon3", root / "class/hwmon/hwmon7");
    auto const before = bench.readings[0].size();
    REQUIRE(bench.run_until([&] { return bench.readings[0].size() > before + 3 && !bench.last_fault(0); }));
    for (auto const celsius : bench.good(0)) CHECK(celsius == 4.5);
    std::filesystem::remove_all(root / "class/hwmon/hwmon7");
    REQUIRE(bench.run_until(
        [&] { return bench.last_fault(0) && bench.last_fault(0)->kind == FaultKind::absent; }));
    CHECK_THAT(bench.last_fault(0)->reason, INGLE_CONTAINS("hwmon0 (board)"));
    driver->stop();
}

TEST_CASE("what the kernel's chips measure is listed, with names that stay") {
    test::TempFolder root;
    auto const put = [&](std::string const& file, std::string const& text) {
        std::filesystem::create_directories(root / "sys/class/hwmon/hwmon3");
        std::ofstream(root / ("sys/class/hwmon/hwmon3/" + file)) << text << "\n";
    };
    put("name", "lm75");
    put("temp1_input", "-1500");
    put("temp2_input", "4500");
    put("temp2_label", "fridge");
    put("in0_input", "3300");
    auto const found = hwmon_driver.find(root.path());
    REQUIRE(found.size() == 2);
    CHECK_THAT(found[0].what, INGLE_CONTAINS("-1.5 degC now"));
    CHECK(found[1].options[0].key == "device");
    CHECK_THAT(found[1].options[0].value, INGLE_CONTAINS("lm75"));
    CHECK(found[1].options[1].value == "temp2");
    CHECK(found[1].options[1].also == std::vector<std::string>{"fridge"});
}
