#include <fstream>
#include <system_error>

#include "drivers/w1/decode.hpp"
#include "drivers/w1/supply.hpp"
#include "tests/support/catch.hpp"
#include "tests/support/driver_bench.hpp"
#include "tests/support/long_form.hpp"
#include "tests/support/pty.hpp"
#include "tests/support/rows.hpp"

namespace ingle {
extern DriverInfo const w1_driver;
}

using namespace ingle;
using namespace std::chrono_literals;
using test::DriverBench;

namespace {

std::string const good_425 = "44 00 4b 46 7f ff 0c 10 94 : crc=94 YES\n44 00 4b 46 7f ff 0c 10 94 t=4250\n";
std::string const power_on = "50 05 4b 46 7f ff 0c 10 1c : crc=1c YES\n50 05 4b 46 7f ff 0c 10 1c t=85000\n";
std::string const failed_crc = "3e 00 4b 46 7f ff 02 10 d1 : crc=51 NO\n44 00 4b 46 7f ff 0c 10 94 t=4250\n";

Fault fault(std::string_view text, std::string_view family = "28") {
    auto const result = decode_w1_slave(text, family);
    REQUIRE(std::holds_alternative<Fault>(result));
    return std::get<Fault>(result);
}

// A bus as sysfs shows it, in a folder.
struct Bus {
    test::TempFolder root;
    std::string path(std::string const& id) { return root / ("bus/w1/devices/" + id); }
    void say(std::string const& id, std::string const& text) {
        std::filesystem::create_directories(path(id));
        auto const next = path(id) + "/next";
        std::ofstream(next) << text;
        std::filesystem::rename(next, path(id) + "/w1_slave");  // at once: the reader sees the old or the new
    }
    std::shared_ptr<Driver> probe(DriverBench& bench, int number, std::string const& id) {
        Options options;
        options.set("id", id);
        options.set("root", root.path());
        return w1_driver.make(bench.context(), {DriverBench::probe(number, options, Span(20))});
    }
};

}  // namespace

// tests/reference/sensing/w1.csv: captures and datasheet table 1, with the source in each row.
TEST_CASE("every recorded scratchpad is believed or refused as it should be") {
    int rows = 0;
    for (auto const& row : test::rows("reference/sensing/w1.csv")) {
        auto const& verdict = row.at("verdict");
        if (row.at("text_line1").empty()) {  // the ROM code
            std::uint8_t const rom[] = {0x02, 0x1C, 0xB8, 0x01, 0, 0, 0};
            CHECK(w1_crc8(rom) == 0xA2);
            ++rows;
            continue;
        }
        INFO(row.at("text_line1"));
        auto const result = decode_w1_slave(row.at("text_line1") + "\n" + row.at("text_line2") + "\n", "28");
        if (verdict.starts_with("valid")) {
            REQUIRE(std::holds_alternative<W1Sample>(result));
            CHECK_THAT(std::get<W1Sample>(result).celsius,
                       WithinAbs(std::stod(row.at("mC")) / 1000.0, 0.00099));
            CHECK_FALSE(std::get<W1Sample>(result).could_be_power_on);
        } else if (verdict.starts_with("SUSPECT: 85")) {
            CHECK(std::get<W1Sample>(result).could_be_power_on);
        } else if (verdict.starts_with("SUSPECT: 127")) {
            CHECK(std::get<Fault>(result).kind == FaultKind::not_powered);
        } else {
            CHECK(std::holds_alternative<Fault>(result));
        }
        ++rows;
    }
    CHECK(rows == 19);
}

// field case A14, A15, A16, A17
TEST_CASE("the lies of a 1-Wire bus (A14-A17)") {
    CHECK(fault(failed_crc).kind == FaultKind::garbled);
    CHECK(fault("").kind == FaultKind::no_reply);
    CHECK(fault("\n").kind == FaultKind::no_reply);
    CHECK(fault("44 00 4b 46 7f ff 0c 10 94 : crc=94 YES\n").kind == FaultKind::garbled);
    CHECK(fault("44 00 4b 46 7f ff 0c 10 94 : crc=94 YES\n44 00 4b 46 7f ff 0c 10 94 t=\n").kind ==
          FaultKind::garbled);
    CHECK(fault("44 00 4b 46 7f ff 0c 10 94 : crc=94 YES\n44 00 4b 46 7f ff 0c 10 94\n").kind ==
          FaultKind::garbled);
    CHECK(fault("00 00 00 00 00 00 00 00 00 : crc=00 YES\n00 00 00 00 00 00 00 00 00 t=0\n").kind ==
          FaultKind::no_reply);
    CHECK(fault("ff 07 4b 46 7f ff 0c 10 a6 : crc=a6 YES\nff 07 4b 46 7f ff 0c 10 a6 t=127937\n").kind ==
          FaultKind::not_powered);
    // The kernel says YES, the bytes say otherwise: a bit lost between the two, or a fixture with a wrong
    // checksum.
    CHECK(fault("75 01 4b 46 7f ff 0c 10 1c : crc=1c YES\n75 01 4b 46 7f ff 0c 10 1c t=23312\n").kind ==
          FaultKind::garbled);
    CHECK(fault("44 00 4b 46 7f ff 0c 10 94 : crc=94 YES\n44 00 4b 46 7f ff 0c 10 94 t=4312\n").kind ==
          FaultKind::garbled);
    CHECK(fault("44 00 4b 46 7f ff 0c 10 94 : crc=94 YES\na2 00 4b 46 7f ff 0c 10 74 t=10125\n").kind ==
          FaultKind::stale);
    for (auto const* text : {"zz", "44 00", "44,00,4b,46,7f,ff,0c,10,94 : crc=94 YES", "t=4250"})
        CHECK(fault(text).kind == FaultKind::garbled);
    std::uint8_t below[] = {0x10, 0xF9, 0x4b, 0x46, 0x7f, 0xff, 0x0c, 0x10};  // -111 degC
    char const* digits = "0123456789abcdef";
    std::string bytes;
    for (auto const byte : below) bytes += std::string{digits[byte >> 4], digits[byte & 15], ' '};
    auto const crc = w1_crc8(below);
    bytes += std::string{digits[crc >> 4], digits[crc & 15]};
    CHECK(fault(bytes + " : crc=xx YES\n" + bytes + " t=-111000\n").kind == FaultKind::out_of_range);
}

// field case A13
TEST_CASE("85 degC is believed only in the company of its like (A13)") {
    PowerOnRule rule;
    auto const at = [](int minute) { return Instant{Span(minute * 60'000)}; };
    CHECK(rule.judge(at(0), {85.0, true}).fault().kind == FaultKind::power_on_value);
    CHECK(rule.judge(at(1), {85.0, true}).fault().kind == FaultKind::power_on_value);
    CHECK(rule.judge(at(2), {4.25, false}).ok());
    CHECK_FALSE(rule.judge(at(3), {85.0, true}).ok());
    CHECK(rule.judge(at(4), {84.5, false}).ok());
    CHECK(rule.judge(at(5), {85.0, true}).ok());
    CHECK(rule.judge(at(6), {85.0, true}).ok());
    CHECK_FALSE(rule.judge(at(30), {85.0, true}).ok());
    CHECK(rule.judge(at(31), {85.0, false}).ok());  // byte 6 moved: a conversion took place
}

TEST_CASE("ids name a thermometer") {
    CHECK(is_w1_id("28-000000000001"));
    for (auto const* id :
         {"28-00000000000", "29-000000000001", "28_000000000001", "28-00000000000G", "../etc/passwd0"})
        CHECK_FALSE(is_w1_id(id));
    DriverBench bench;
    Options options;
    options.set("id", std::string("fridge"));
    CHECK_THROWS_WITH(w1_driver.make(bench.context(), {DriverBench::probe(0, options)}),
                      INGLE_CONTAINS("28-000000000001"));
}

// field case A13, A14, A15, A18
TEST_CASE("a fridge starts, loses its checksum, is pulled out and comes back (A13, A14, A15, A18)") {
    DriverBench bench;
    Bus bus;
    bus.say("28-000000000001", power_on);
    auto const driver = bus.probe(bench, 0, "28-000000000001");
    driver->start();
    REQUIRE(bench.run_until([&] { return bench.had_event("start-up-value-ignored"); }));
    CHECK(bench.good(0).empty());
    bus.say("28-000000000001", good_425);
    REQUIRE(bench.run_until([&] { return !bench.good(0).empty(); }));
    auto const expect = [&](FaultKind kind) {
        return bench.run_until([&] { return bench.last_fault(0) && bench.last_fault(0)->kind == kind; });
    };
    bus.say("28-000000000001", failed_crc);
    CHECK(expect(FaultKind::garbled));
    bus.say("28-000000000001", "");
    CHECK(expect(FaultKind::no_reply));
    std::filesystem::remove_all(bus.path("28-000000000001"));
    CHECK(expect(FaultKind::absent));
    bench.run_for(test::long_form() ? 40min : 200ms);
    CHECK(bench.log.size() < 8);  // once each, not at every poll
    auto const before = bench.good(0).size();
    bus.say("28-000000000001", good_425);
    CHECK(bench.run_until([&] { return bench.good(0).size() > before; }));
    for (auto const celsius : bench.good(0)) CHECK(celsius == 4.25);
    driver->stop();
}

// field case A16
TEST_CASE("a sensor pulled out while it is read sends what is below its range: no reading, at once") {
    for (double const celsius : {-109.9375, -110.1875, -109.9375}) {
        auto const code = static_cast<std::uint16_t>(static_cast<int>(celsius * 16));
        std::uint8_t const scratch[] = {static_cast<std::uint8_t>(code & 0xFF),
                                        static_cast<std::uint8_t>(code >> 8),
                                        0x4b,
                                        0x46,
                                        0x7f,
                                        0xff,
                                        0x0c,
                                        0x10};
        char const* digits = "0123456789abcdef";
        std::string bytes;
        for (unsigned const byte : scratch) bytes += std::string{digits[byte >> 4], digits[byte & 15], ' '};
        unsigned const crc = w1_crc8(scratch);
        bytes += std::string{digits[crc >> 4], digits[crc & 15]};
        auto const milli = std::to_string(static_cast<long>(celsius * 1000));
        CHECK(fault(bytes + " : crc=xx YES\n" + bytes + " t=" + milli + "\n").kind ==
              FaultKind::out_of_range);
    }
}

// field case A18
TEST_CASE(
    "the supply of a sensor that stays away is cut, at most once in ten minutes, and that is recorded") {
    Supply supply;
    std::vector<bool> cuts;
    std::vector<long> pauses;
    auto const pause = [&](std::chrono::milliseconds length) { pauses.push_back(length.count()); };
    auto const at = [](double minutes) { return Instant{from_seconds(minutes * 60)}; };
    CHECK(supply.cycle(at(0), at(30), pause).empty());  // nothing to cut it with
    supply.use([&](bool cut) { cuts.push_back(cut); });
    CHECK(supply.cycle(at(0), at(1), pause).empty());  // it may come back by itself
    CHECK_THAT(supply.cycle(at(0), at(2), pause), INGLE_CONTAINS("had not answered for 2 min"));
    CHECK(cuts == std::vector<bool>{true, false});
    CHECK(pauses == std::vector<long>{3000});
    // Away for 40 minutes, asked every second by two sensors on the same supply.
    int cycles = 0;
    for (int s = 121; s < 40 * 60; ++s)
        for (double const lost : {0.0, 1.5})
            if (!supply.cycle(at(lost), at(s / 60.0), pause).empty()) ++cycles;
    CHECK(cycles == 3);  // 12, 22 and 32 min
    // A line that cannot be had is said, not thrown, and is not tried at every poll.
    Supply broken;
    broken.use(
        [](bool) { throw std::system_error(EBUSY, std::system_category(), "line 4 is held by another"); });
    CHECK_THAT(broken.cycle(at(0), at(5), pause), INGLE_CONTAINS("held by another"));
    CHECK(broken.cycle(at(0), at(6), pause).empty());

    DriverBench bench;
    Options options;
    options.set("id", std::string("28-000000000001"));
    options.set("supply-line", std::int64_t{4});
    CHECK_THROWS_WITH(w1_driver.make(bench.context(), {DriverBench::probe(0, options)}),
                      INGLE_CONTAINS("supply-chip"));
}

// field case A19
TEST_CASE("what is on the bus is listed, whoever it belongs to") {
    test::TempFolder root;
    for (auto const* id : {"28-000000000002", "28-000000000003", "w1_bus_master1", "29-000000000009"}) {
        auto const folder = root / ("sys/bus/w1/devices/" + std::string(id));
        std::filesystem::create_directories(folder);
        std::ofstream(folder + "/w1_slave") << good_425;
    }
    auto const found = w1_driver.find(root.path());
    REQUIRE(found.size() == 2);
    CHECK(found[1].options.size() == 1);
    CHECK(found[1].options[0].key == "id");
    CHECK(found[1].options[0].value == "28-000000000003");
    CHECK_THAT(found[1].what, INGLE_CONTAINS("28-000000000003, 4.3 degC now"));
}

// field case A19
TEST_CASE("probes follow their id, not the order of discovery (A19)") {
    DriverBench bench;
    Bus bus;
    std::string const pot = "d0 07 4b 46 7f ff 0c 10 f4 : crc=f4 YES\nd0 07 4b 46 7f ff 0c 10 f4 t=125000\n";
    bus.say("28-000000000002", pot);
    auto const fridge = bus.probe(bench, 0, "28-000000000001");
    auto const stockpot = bus.probe(bench, 1, "28-000000000002");
    fridge->start();
    stockpot->start();
    REQUIRE(bench.run_until([&] { return bench.good(1).size() > 2 && bench.last_fault(0); }));
    CHECK(bench.last_fault(0)->kind == FaultKind::absent);
    bus.say("28-000000000001", good_425);
    bus.say("28-000000000003", pot);
    REQUIRE(bench.run_until([&] { return !bench.good(0).empty(); }));
    CHECK(bench.good(0).front() == 4.25);
    CHECK(bench.good(1).back() == 125.0);
    fridge->stop();
    stockpot->stop();
}
