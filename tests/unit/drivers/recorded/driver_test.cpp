#include <sys/stat.h>
#include <unistd.h>

#include <filesystem>
#include <fstream>

#include "drivers/reading/recording.hpp"
#include "tests/support/catch.hpp"
#include "tests/support/driver_rig.hpp"

using namespace ingle;

namespace ingle {
extern DriverInfo const recorded_driver;
}

namespace {

// A recording in a file of its own, gone afterwards.
struct File {
    std::filesystem::path path =
        std::filesystem::temp_directory_path() / ("ingle-recorded-" + std::to_string(getpid()));
    explicit File(std::string const& text) { std::ofstream(path, std::ios::binary) << text; }
    ~File() { std::filesystem::remove(path); }
};

Options playing(File const& file, double speed, std::string const& column = "") {
    Options options;
    options.set("file", file.path.string());
    options.set("speed", speed);
    if (!column.empty()) options.set("column", column);
    return options;
}

}  // namespace

TEST_CASE("a recording is played in its own rhythm, then there is silence") {
    File const file("time,stock [degF],goose-core [degC]\n10,185.0,40\n12,,open\n14,190.4,41.5\n");
    auto const stock = playing(file, 100), core = playing(file, 100, "goose-core");
    CHECK(problems(recorded_driver.options, core).empty());
    test::DriverRig rig;
    auto const driver = recorded_driver.make(rig.context(), {test::wiring(5, "stock", Span{1000}, stock),
                                                             test::wiring(2, "core", Span{1000}, core)});
    auto const before = BootClock::now();
    driver->start();
    REQUIRE(rig.run_until([&] { return !rig.logged.empty(); }));
    auto const& stocks = rig.readings[5];
    auto const& cores = rig.readings[2];
    REQUIRE(stocks.size() == 2);  // one cell is empty
    REQUIRE(cores.size() == 3);
    CHECK_THAT(stocks[0].celsius(), WithinAbs(85, 1e-9));
    CHECK_THAT(stocks[1].celsius(), WithinAbs(88, 1e-9));
    CHECK(cores[1].fault().kind == FaultKind::open);
    CHECK(cores[2].celsius() == 41.5);
    // Rows 2 s apart at a hundredfold speed: 20 ms, whenever they were served.
    CHECK(stocks[0].at >= before);
    CHECK(cores[1].at - cores[0].at == Span{20});
    CHECK(cores[2].at - cores[0].at == Span{40});
    CHECK(stocks[1].at == cores[2].at);
    CHECK(rig.events.size() == 2);  // one for each probe
    CHECK(rig.logged.size() == 1);
    driver->stop();
    driver->stop();
}

TEST_CASE("stopping in the middle ends it at once") {
    File const file("time,stock [degC]\n0,1\n1,2\n1000,3\n");
    test::DriverRig rig;
    auto const driver =
        recorded_driver.make(rig.context(), {test::wiring(0, "stock", Span{1000}, playing(file, 1))});
    driver->start();
    rig.run_for(Span{20});
    driver->stop();
    rig.io.restart();
    CHECK(rig.io.run_for(std::chrono::seconds(5)) <= 2);  // nothing waits
    CHECK(rig.readings[0].size() == 1);
    CHECK(rig.events.empty());
}

TEST_CASE("what can never work is said with its place") {
    test::DriverRig rig;
    auto const fails = [&](Options options, std::string const& says) {
        CHECK_THROWS_WITH(
            recorded_driver.make(rig.context(), {test::wiring(0, "stock", Span{1000}, options)}),
            INGLE_CONTAINS(says));
    };
    {
        File const file("time,tub [degC],hall [degC]\n0,3,21\n");
        fails(playing(file, 1), "no column \"stock\"; it has \"tub\", \"hall\"");
        fails(playing(file, 1, "kettle"), "no column \"kettle\"");
    }
    {
        File const file("time,stock [degC]\n0,3\n1,warm\n");
        fails(playing(file, 1), ":3:");
    }
    Options options;
    options.set("file", std::string("/nonexistent/cook.csv"));
    fails(options, "/nonexistent/cook.csv");
    options.set("file", std::string("/dev/zero"));
    fails(options, "no regular file");
    File const longer("");
    std::filesystem::resize_file(longer.path, longest_recording + 1);
    fails(playing(longer, 1), "longer than 256 MiB");
    std::filesystem::remove(longer.path);
    REQUIRE(mkfifo(longer.path.c_str(), 0600) == 0);
    fails(playing(longer, 1), "no regular file");
}
