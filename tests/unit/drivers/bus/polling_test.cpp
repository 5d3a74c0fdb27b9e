#include "drivers/bus/polling.hpp"

#include <atomic>
#include <chrono>
#include <thread>

#include "drivers/bus/sysfs.hpp"
#include "tests/support/catch.hpp"
#include "tests/support/driver_bench.hpp"
#include "tests/support/pty.hpp"

using namespace ingle;
using namespace std::chrono_literals;
using test::DriverBench;

namespace {

class Counting final : public PolledDevice {
public:
    Polled read(std::size_t probe) override {
        ++count;
        if (count % 4 == 0) throw std::runtime_error("a wire fell off");
        Polled polled;
        polled.reading = Reading::good(BootClock::now(), 20.0 + static_cast<double>(probe));
        polled.closed = probe == 1;
        return polled;
    }
    int count = 0;
};

class Hanging final : public PolledDevice {
public:
    explicit Hanging(std::shared_ptr<std::atomic<bool>> free) : free_(std::move(free)) {}
    Polled read(std::size_t) override {
        auto const free = free_;
        while (!*free) std::this_thread::sleep_for(5ms);
        return {Reading::good(BootClock::now(), 99.0), {}, {}};
    }

private:
    std::shared_ptr<std::atomic<bool>> free_;
};

std::shared_ptr<PollingDriver> driver(DriverBench& bench, int number, Span every,
                                      std::unique_ptr<PolledDevice> device, int probes = 1) {
    std::vector<ProbeWiring> wiring;
    for (int i = 0; i < probes; ++i) wiring.push_back(DriverBench::probe(number + i, {}, every));
    return std::make_shared<PollingDriver>(bench.context(), std::move(wiring), std::move(device));
}

}  // namespace

TEST_CASE("each probe is read at its period, on another thread; what it throws is a fault, told once") {
    DriverBench bench;
    auto const polling = driver(bench, 0, Span(20), std::make_unique<Counting>(), 2);
    polling->start();
    bench.run_for(500ms);
    polling->stop();
    CHECK(bench.readings[0].size() > 10);
    CHECK(bench.readings[0].size() < 40);
    CHECK(bench.good(1).at(0) == 21.0);
    CHECK_FALSE(bench.switches.empty());
    CHECK(bench.logged("a wire fell off"));
    auto const before = bench.readings[0].size();
    bench.run_for(100ms);
    CHECK(bench.readings[0].size() == before);
}

// field case A25
TEST_CASE(
    "a read that never returns: the others keep their cadence, it is told, stopping does not wait (A25)") {
    auto const free = std::make_shared<std::atomic<bool>>(false);
    {
        DriverBench bench;
        auto const stuck = driver(bench, 0, Span(400), std::make_unique<Hanging>(free));
        auto const second = driver(bench, 1, Span(100), std::make_unique<Counting>());
        auto const third = driver(bench, 2, Span(100), std::make_unique<Counting>());
        for (auto const& each : {stuck, second, third}) each->start();
        bench.run_for(2100ms);
        CHECK(bench.readings[1].size() >= 18);
        CHECK(bench.readings[2].size() >= 18);
        REQUIRE(bench.last_fault(0));
        CHECK(bench.last_fault(0)->kind == FaultKind::no_reply);
        CHECK(bench.good(0).empty());
        auto const before = std::chrono::steady_clock::now();
        for (auto const& each : {stuck, second, third}) each->stop();
        CHECK(std::chrono::steady_clock::now() - before < 1s);
    }  // the loop is gone; the thread that hangs comes back now and must not touch it
    *free = true;
    std::this_thread::sleep_for(50ms);
}

TEST_CASE("a device that answers late is heard again") {
    auto const free = std::make_shared<std::atomic<bool>>(false);
    DriverBench bench;
    auto const late = driver(bench, 0, Span(100), std::make_unique<Hanging>(free));
    late->start();
    REQUIRE(bench.run_until([&] { return bench.last_fault(0) != nullptr; }));
    *free = true;
    CHECK(bench.run_until([&] { return bench.good(0).size() >= 2; }));
    CHECK(bench.logged("reads again"));
    late->stop();
}

TEST_CASE("polling drivers started and stopped many times leave nothing behind") {
    DriverBench bench;
    for (int round = 0; round < 300; ++round) {
        auto polling = driver(bench, 0, Span(1), std::make_unique<Counting>());
        std::weak_ptr<PollingDriver> const left = polling;
        polling->start();
        if (round % 2) bench.io.poll();
        polling->stop();
        polling->stop();
        polling.reset();
        bench.io.restart();
        bench.io.poll();
        REQUIRE(left.expired());
    }
}

TEST_CASE("numbers in files are whole or decimal and stand alone") {
    CHECK(file_number("62.500000\n") == 62.5);
    CHECK(file_number("-10000") == -10000.0);
    for (auto const* text : {"", " ", "1e", "0x10", "12,5", "nan", "inf", "12 13"})
        CHECK_FALSE(file_number(text));
}

TEST_CASE("a device is found by name, number or owner; a name that two have is refused") {
    test::TempFolder root;
    for (int i = 0; i < 3; ++i) {
        auto const owner = root / ("devices/spi0." + std::to_string(i));
        std::filesystem::create_directories(owner + "/dev" + std::to_string(i));
        std::filesystem::create_directories(root / "class");
        std::filesystem::create_directory_symlink(owner + "/dev" + std::to_string(i),
                                                  root / ("class/dev" + std::to_string(i)));
        std::filesystem::create_directory_symlink(owner, owner + "/dev" + std::to_string(i) + "/device");
        auto* file = std::fopen((owner + "/dev" + std::to_string(i) + "/name").c_str(), "w");
        std::fputs(i == 2 ? "lonely\n" : "twin\n", file);
        std::fclose(file);
    }
    auto const find = [&](std::string_view wanted) { return find_device(root / "class", "dev", wanted); };
    CHECK(find("lonely").path == root / "class/dev2");
    CHECK(find("1").path == root / "class/dev1");
    CHECK(find("dev0").name == "twin");
    CHECK(find("twin@spi0.1").path == root / "class/dev1");
    CHECK(find("twin").fault->kind == FaultKind::refused);
    CHECK(find("other").fault->kind == FaultKind::absent);
    CHECK_THAT(find("other").fault->reason, INGLE_CONTAINS("dev2 (lonely)"));
    CHECK(find_device(root / "nowhere", "dev", "x").fault->kind == FaultKind::absent);
}
