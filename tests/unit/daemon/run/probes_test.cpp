#include "daemon/run/probes.hpp"

#include <filesystem>
#include <fstream>
#include <string>
#include <vector>

#include "tests/support/catch.hpp"
#include "tests/support/pty.hpp"

using namespace ingle;

namespace {

struct Heard final : ReadingSink {
    std::vector<std::pair<int, double>> readings;
    std::vector<int> ended;
    void on_reading(int probe, Reading reading) override {
        readings.emplace_back(probe, reading.ok() ? reading.celsius() : -1);
    }
    void on_driver_event(int probe, std::string_view event, std::string) override {
        if (event == "recording-ended") ended.push_back(probe);
    }
    void on_switch(int, Instant, bool) override {}
};

// A recording of two probes, a row in 50 ms, played through one driver.
class Tape {
public:
    Tape() { write("oven [degC],pot [degC]\n"); }
    void write(std::string const& columns) {
        std::ofstream file(path_);
        file << "time," << columns;
        for (int row = 0; row < 12; ++row) file << row << ',' << 100 + row << ',' << 60 + row << '\n';
    }
    ProbeSettings probe(std::string const& name, double speed = 20) const {
        ProbeSettings probe;
        probe.name = name;
        probe.driver = "recorded";
        probe.options["file"].value = path_;
        probe.options["speed"].value = speed;
        return probe;
    }

private:
    test::TempFolder folder_;
    std::string path_ = folder_ / "tape.csv";
};

struct Kitchen {
    Settings settings;
    Heard heard;
    Probes probes;
    Kitchen(boost::asio::io_context& io, std::vector<ProbeSettings> const& list)
        : settings{.probes = list}, probes(io, settings, heard, [](Severity, std::string const&) {}) {}
};

}  // namespace

TEST_CASE("a driver that nobody changed reads on through a change of the kitchen file") {
    Tape const tape;
    boost::asio::io_context io;
    Kitchen before(io, {tape.probe("oven"), tape.probe("pot")});
    before.probes.start();
    io.run_for(std::chrono::milliseconds(160));
    auto const rows = before.heard.readings.size() / 2;
    REQUIRE(rows >= 2);
    auto room = tape.probe("room");
    room.driver = "simulated";
    room.options = {};
    room.options["of"].value = std::string("room");
    // The other probe stands before them in the new file: their numbers are others.
    Kitchen after(io, {room, tape.probe("oven"), tape.probe("pot")});
    CHECK_FALSE(after.probes.goes_on("oven"));
    after.probes.take_from(before.probes);
    CHECK(after.probes.goes_on("oven"));
    CHECK(after.probes.goes_on("pot"));
    CHECK_FALSE(after.probes.goes_on("room"));
    before.probes.stop();
    after.probes.start();
    io.run_for(std::chrono::seconds(2));
    CHECK(before.heard.readings.size() == 2 * rows);
    std::vector<std::pair<int, double>> tapes;
    for (auto const& [probe, celsius] : after.heard.readings)
        if (probe != 0) tapes.emplace_back(probe, celsius);
    REQUIRE(tapes.size() == 2 * (12 - rows));  // every row once, over the change
    CHECK(tapes.front() == std::pair<int, double>(1, 100.0 + static_cast<double>(rows)));
    CHECK(tapes.back() == std::pair<int, double>(2, 71.0));
    CHECK(after.heard.readings.size() > tapes.size());
    CHECK(after.heard.ended == std::vector<int>{1, 2});
    // Once more, after its end.
    after.probes.has_ended(1);
    Kitchen third(io, {tape.probe("oven"), tape.probe("pot")});
    third.probes.take_from(after.probes);
    CHECK_FALSE(third.probes.all_heard(BootClock::now() + std::chrono::hours(1)));
    third.probes.heard(1, BootClock::now() + std::chrono::hours(1));
    CHECK(third.probes.all_heard(BootClock::now() + std::chrono::hours(1)));
    after.probes.stop();
    third.probes.stop();
}

TEST_CASE("a driver begins anew where its keys, its probes or its file have changed") {
    Tape tape;
    boost::asio::io_context io;
    std::vector<ProbeSettings> list{tape.probe("oven"), tape.probe("pot")};
    Kitchen before(io, list);
    SECTION("never started") {}
    SECTION("another key") {
        before.probes.start();
        for (auto& probe : list) probe.options["speed"].value = 10.0;
    }
    SECTION("a probe less") {
        before.probes.start();
        list.pop_back();
    }
    SECTION("another period") {
        before.probes.start();
        list[1].every = {2};
    }
    SECTION("another file of the same name") {
        before.probes.start();
        tape.write("pot [degC],oven [degC]\n");
        std::filesystem::last_write_time(
            std::get<std::string>(list[0].options["file"].value),
            std::filesystem::file_time_type::clock::now() + std::chrono::seconds(5));
    }
    auto const said = before.heard.readings.size();  // the first row, at once
    Kitchen after(io, list);
    after.probes.take_from(before.probes);
    CHECK_FALSE(after.probes.goes_on("oven"));
    before.probes.stop();
    after.probes.start();
    io.run_for(std::chrono::milliseconds(300));
    CHECK(before.heard.readings.size() == said);
    CHECK_FALSE(after.heard.readings.empty());
    after.probes.stop();
}
