#include "daemon/wiring/wiring.hpp"

#include <unistd.h>

#include <fstream>

#include "daemon/wiring/kitchen_file.hpp"
#include "drivers/api/registry.hpp"

#include "tests/support/catch.hpp"

using namespace ingle;

namespace {

ProbeSettings serial(std::string name, std::string port, std::string channel) {
    ProbeSettings probe;
    probe.name = std::move(name);
    probe.driver = "serial-line";
    probe.options["port"] = {port, {"kitchen.toml", 7, 8}};
    probe.options["channel"] = {channel, {"kitchen.toml", 8, 11}};
    probe.options["unit"] = {std::string("degC"), {"kitchen.toml", 9, 8}};
    return probe;
}

}  // namespace

TEST_CASE("probes on one port share a driver, in the order of the file") {
    Settings settings;
    settings.probes = {serial("stock", "/dev/a", "T1"), serial("smoke", "/dev/b", "T1"),
                       serial("core", "/dev/a", "T2")};
    CHECK(wiring_problems(settings).empty());
    auto const groups = group_probes(settings);
    REQUIRE(groups.size() == 2);
    REQUIRE(groups[0].probes.size() == 2);
    CHECK(groups[0].probes[0].name == "stock");
    CHECK(groups[0].probes[1].name == "core");
    CHECK(groups[0].probes[1].number == 2);
    CHECK(groups[1].probes[0].name == "smoke");
}

TEST_CASE("a mistake in a driver's own key is told with its place and what would be right") {
    Settings settings;
    settings.probes = {serial("stock", "/dev/a", "T1")};
    settings.probes[0].options["prot"] = {std::string("/dev/a"), {"kitchen.toml", 12, 3}};
    settings.probes[0].options.erase("port");
    auto const errors = wiring_problems(settings);
    REQUIRE(errors.size() == 2);
    std::string all;
    for (auto const& error : errors) all += error.text() + "\n";
    CHECK_THAT(all, INGLE_CONTAINS("kitchen.toml:12:3: probe.stock.prot"));
    CHECK_THAT(all, INGLE_CONTAINS("probe.stock.port"));
}

TEST_CASE("an unknown driver names the ones there are") {
    Settings settings;
    settings.probes = {serial("stock", "/dev/a", "T1")};
    settings.probes[0].driver = "telepathy";
    auto const errors = wiring_problems(settings);
    REQUIRE(errors.size() == 1);
    CHECK_THAT(errors[0].text(), INGLE_CONTAINS("serial-line"));
    CHECK(group_probes(settings).empty());
}

TEST_CASE("a probe that is a switch is marked as one, by its driver's word") {
    Settings settings;
    settings.probes = {serial("stock", "/dev/a", "T1"), serial("lid", "/dev/a", "T2")};
    settings.probes[0].contact = true;  // an earlier file had it so
    settings.probes[1].driver = "gpio-switch";
    mark_contacts(settings);
    CHECK_FALSE(settings.probes[0].contact);
    CHECK(settings.probes[1].contact == (find_driver("gpio-switch") != nullptr));
}

TEST_CASE("the shipped plans are found from any folder, after a plan of the kitchen's own") {
    CHECK(shipped_plans("/usr/bin/ingle")[0].lexically_normal() == "/usr/share/ingle/plans");
    CHECK(shipped_plans("/src/build/daemon/ingled")[1].lexically_normal() == "/src/config/plans");
    // A build's tree, with this program in the place of ingle: build/x/program.
    auto const folder = std::filesystem::temp_directory_path() / ("ingle-plans-" + std::to_string(getpid()));
    std::filesystem::create_directories(folder);
    auto const write = [&](char const* file, char const* text) { std::ofstream(folder / file) << text; };
    write("k.toml",
          "[kitchen]\nname = \"hall\"\nunits = \"degF\"\naltitude = \"0 m\"\n"
          "[[vessel]]\nname = \"pot\"\nkind = \"pot\"\n"
          "[[dish]]\nname = \"ham\"\nvessel = \"pot\"\nplan = \"hold\"\n");
    write("hold.toml", "name = \"hold\"\n[[stage]]\nname = \"mine\"\nuntil = { time = \"1 h\" }\n");
    auto const own = load_kitchen_and_plans(folder / "k.toml");
    REQUIRE(own.settings.plans.size() == 1);
    CHECK(own.settings.plans[0].stages[0].name == "mine");
    std::filesystem::remove_all(folder);
}
