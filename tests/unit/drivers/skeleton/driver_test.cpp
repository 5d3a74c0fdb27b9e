#include <unistd.h>

#include <filesystem>
#include <fstream>

#include "tests/support/catch.hpp"
#include "tests/support/driver_rig.hpp"

using namespace ingle;

namespace ingle {
extern DriverInfo const skeleton_driver;
}

TEST_CASE("the driver reads, says faults, recovers and stops") {
    auto const path = std::filesystem::temp_directory_path() / ("ingle-skeleton-" + std::to_string(getpid()));
    std::filesystem::remove(path);
    Options options;
    options.set("file", path.string());
    CHECK(problems(skeleton_driver.options, options).empty());
    CHECK_FALSE(problems(skeleton_driver.options, {}).empty());

    test::DriverRig rig;
    auto const driver = skeleton_driver.make(
        rig.context(),
        {test::wiring(3, "tub", Span{50}, options), test::wiring(4, "tub-again", Span{50}, options)});
    driver->start();
    REQUIRE(rig.run_until([&] { return rig.readings[3].size() >= 2; }));
    CHECK(rig.readings[3].back().fault().kind == FaultKind::absent);
    CHECK(rig.logged.size() == 1);

    std::ofstream(path) << "4.5\n";
    REQUIRE(rig.run_until([&] { return rig.readings[3].back().ok(); }));
    CHECK(rig.readings[3].back().celsius() == 4.5);
    REQUIRE(rig.run_until([&] { return rig.readings[4].back().ok(); }));
    CHECK(rig.readings[4].back().celsius() == 4.5);
    CHECK(rig.logged.size() == 2);

    driver->stop();
    driver->stop();
    auto const before = rig.readings[3].size();
    rig.run_for(Span{120});
    CHECK(rig.readings[3].size() == before);
    std::filesystem::remove(path);
}
