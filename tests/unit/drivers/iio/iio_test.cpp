#include <cerrno>
#include <fstream>

#include "drivers/iio/decode.hpp"
#include "tests/support/catch.hpp"
#include "tests/support/driver_bench.hpp"
#include "tests/support/pty.hpp"

namespace ingle {
extern DriverInfo const iio_driver;
}

using namespace ingle;
using test::DriverBench;

namespace {

FileText const none{{}, ENOENT};
IioChannel channel(std::string const& raw, std::string const& scale) {
    return {none, {raw, 0}, none, {scale, 0}};
}
IioChannel const no_channel{none, none, none, none};

Reading decode(std::string const& name, IioChannel hot, IioChannel cold = no_channel,
               std::optional<ThermocoupleType> type = {}) {
    return decode_iio(Instant{}, {name, std::move(hot), std::move(cold), none, none, type});
}

}  // namespace

// Scales as the kernel's drivers print them: maxim_thermocouple.c, max31856.c, mcp9600.c; the arithmetic is
// the ABI's, milli-degC = (raw + offset) * scale.
TEST_CASE("raw counts become degC by the kernel's own scales") {
    CHECK(decode("maxim_thermocouple", channel("100", "250")).celsius() == 25.0);  // a MAX6675
    CHECK(decode("max31856", channel("3200", "7.812500"), channel("1600", "15.625000")).celsius() == 25.0);
    CHECK(decode("max31856", channel("3200", "7.812500"), channel("1600", "15.625000")).cold_junction ==
          25.0);
    CHECK(decode("max31856", channel("-8", "7.812500")).celsius() == -0.0625);
    CHECK(decode("mcp9600", channel("400", "62.500000")).celsius() == 25.0);
    CHECK(decode("mcp9600", channel("65222", "62.500000")).celsius() ==
          -19.625);  // its sign was forgotten once
    CHECK(decode("other", {none, {"100", 0}, {"-20", 0}, {"62.5", 0}}).celsius() == 5.0);
    CHECK(decode("other", {{"25500", 0}, none, none, none}).celsius() == 25.5);
}

// The published words of the chip's data sheet and the corrected values of the reference file of the project.
TEST_CASE("a MAX31855 behind the kernel has its straight line undone") {
    auto const reading = decode("maxim_thermocouple", channel("1186", "250"), channel("400", "62.500000"),
                                ThermocoupleType::K);
    CHECK_THAT(reading.celsius(), WithinAbs(299.97, 0.05));  // the chip says 296.5 with its own end at 25
    CHECK(reading.cold_junction == 25.0);
    CHECK(decode("maxim_thermocouple", channel("1186", "250"), channel("400", "62.500000")).fault().kind ==
          FaultKind::garbled);
}

TEST_CASE("what a chip cannot read is a fault with its reason") {
    CHECK(decode("maxim_thermocouple", {none, {"", EINVAL}, none, {"250", 0}}).fault().kind ==
          FaultKind::unspecified);
    CHECK(decode("maxim_thermocouple", {none, {"", EBUSY}, none, {"250", 0}}).fault().kind ==
          FaultKind::refused);
    CHECK(decode("max31856", no_channel).fault().kind == FaultKind::absent);
    CHECK(decode("max31856", channel("", "7.8125")).fault().kind == FaultKind::no_reply);
    CHECK(decode("max31856", channel("12x", "7.8125")).fault().kind == FaultKind::garbled);
    CHECK(decode("max31856", channel("12", "")).fault().kind == FaultKind::garbled);
    CHECK(decode("max31856", channel("9999999", "7.8125")).fault().kind == FaultKind::out_of_range);
    IioFiles open{"max31856", channel("12", "7.8125"), no_channel, {"1", 0}, {"0", 0}, {}};
    CHECK(decode_iio(Instant{}, open).fault().kind == FaultKind::open);
    open.fault_oc.text = "0";
    open.fault_ovuv.text = "1";
    CHECK(decode_iio(Instant{}, open).fault().kind == FaultKind::short_circuit);
}

TEST_CASE("the driver reads a recorded tree, and a type that disagrees is no temperature") {
    test::TempFolder root;
    auto const put = [&](std::string const& file, std::string const& text) {
        std::filesystem::create_directories(root / "bus/iio/devices/iio:device2");
        std::ofstream(root / ("bus/iio/devices/iio:device2/" + file)) << text << "\n";
    };
    put("name", "maxim_thermocouple");
    put("in_temp_raw", "1186");
    put("in_temp_scale", "250");
    put("in_temp_ambient_raw", "400");
    put("in_temp_ambient_scale", "62.500000");
    put("in_temp_thermocouple_type", "K");
    Options options;
    options.set("device", std::string("maxim_thermocouple"));
    options.set("root", root.path());
    auto wrong = options;
    wrong.set("type", std::string("J"));
    auto ambient = options;
    ambient.set("channel", std::string("temp_ambient"));
    DriverBench bench;
    std::vector<std::shared_ptr<Driver>> drivers;
    for (auto const& [number, given] : {std::pair{0, options}, std::pair{1, wrong}, std::pair{2, ambient}})
        drivers.push_back(iio_driver.make(bench.context(), {DriverBench::probe(number, given, Span(20))}));
    for (auto const& driver : drivers) driver->start();
    REQUIRE(bench.run_until([&] { return bench.readings.size() == 3; }));
    for (auto const& driver : drivers) driver->stop();
    REQUIRE(bench.good(0).size() >= 1);
    CHECK_THAT(bench.good(0).front(), WithinAbs(299.97, 0.05));
    REQUIRE(bench.last_fault(1));
    CHECK_THAT(bench.last_fault(1)->reason, INGLE_CONTAINS("type"));
    CHECK(bench.good(2).front() == 25.0);
}

TEST_CASE("the kernel's IIO temperatures are listed, each channel once") {
    test::TempFolder root;
    auto const put = [&](std::string const& file, std::string const& text) {
        std::filesystem::create_directories(root / "sys/bus/iio/devices/iio:device2");
        std::ofstream(root / ("sys/bus/iio/devices/iio:device2/" + file)) << text << "\n";
    };
    put("name", "max31856");
    put("in_temp_input", "84500");
    put("in_temp_raw", "10816");
    put("in_temp_ambient_raw", "1600");
    put("in_voltage0_raw", "5");
    auto const found = iio_driver.find(root.path());
    REQUIRE(found.size() == 2);
    CHECK_THAT(found[0].what, INGLE_CONTAINS("channel temp, 84.5 degC now"));
    CHECK(found[0].options[1].value == "temp");
    CHECK(found[1].options[1].value == "temp_ambient");
}
