// Every driver of this build, with a device that never answers: it costs no other probe a reading, it is
// told, and it stops within a second.
#include <arpa/inet.h>
#include <fcntl.h>
#include <netinet/in.h>
#include <sys/socket.h>
#include <sys/stat.h>
#include <unistd.h>

#include <algorithm>
#include <filesystem>
#include <fstream>
#include <memory>
#include <optional>

#include "drivers/api/registry.hpp"
#include "tests/support/catch.hpp"
#include "tests/support/driver_bench.hpp"
#include "tests/support/pty.hpp"

using namespace ingle;
using namespace std::chrono_literals;
using test::DriverBench;

namespace {

void put(std::string const& file, std::string const& text) {
    std::filesystem::create_directories(std::filesystem::path(file).parent_path());
    std::ofstream(file) << text << "\n";
}

// A file whose reader waits for ever: what a hung bus looks like from sysfs. Freed at the end, so that the
// thread that hangs in it can go.
class Hanging {
public:
    explicit Hanging(std::string path) : path_(std::move(path)) {
        std::filesystem::create_directories(std::filesystem::path(path_).parent_path());
        REQUIRE(::mkfifo(path_.c_str(), 0600) == 0);
    }
    ~Hanging() {
        for (int i = 0; i < 20; ++i) {  // each writer that comes and goes lets one reader go
            int const fd = ::open(path_.c_str(), O_WRONLY | O_NONBLOCK | O_CLOEXEC);
            if (fd < 0) break;
            ::close(fd);
            ::usleep(2000);
        }
    }

private:
    std::string path_;
};

// Takes every connection (the kernel does) and never says a word.
class MuteServer {
public:
    MuteServer() : fd_(::socket(AF_INET, SOCK_STREAM | SOCK_CLOEXEC, 0)) {
        sockaddr_in place{};
        place.sin_family = AF_INET;
        place.sin_addr.s_addr = htonl(INADDR_LOOPBACK);
        socklen_t length = sizeof place;
        REQUIRE(::bind(fd_, reinterpret_cast<sockaddr*>(&place), length) == 0);
        REQUIRE(::listen(fd_, 64) == 0);
        ::getsockname(fd_, reinterpret_cast<sockaddr*>(&place), &length);
        address_ = "127.0.0.1:" + std::to_string(ntohs(place.sin_port));
    }
    ~MuteServer() { ::close(fd_); }
    std::string const& address() const { return address_; }

private:
    int fd_;
    std::string address_;
};

// The silent devices of one test, and the options that lead to them.
struct Silence {
    test::TempFolder sys;
    test::Pty port;
    MuteServer server;
    std::optional<Hanging> hanging;

    Options options;
    void set(char const* key, std::string text) { options.set(key, std::move(text)); }
    void hang(std::string const& file) { hanging.emplace(sys / file); }

    // False: this driver has no device that could be silent.
    bool of(std::string_view driver) {
        if (driver == "serial-line") {
            set("port", port.path());
            set("channel", "T1");
            set("unit", "degC");
        } else if (driver == "w1") {
            set("id", "28-000000000001");
            set("root", sys.path());
            hang("bus/w1/devices/28-000000000001/w1_slave");
        } else if (driver == "iio") {
            put(sys / "bus/iio/devices/iio:device0/name", "max31856");
            set("device", "max31856");
            set("root", sys.path());
            hang("bus/iio/devices/iio:device0/in_temp_raw");
        } else if (driver == "hwmon") {
            put(sys / "class/hwmon/hwmon0/name", "lm75");
            set("device", "lm75");
            set("root", sys.path());
            hang("class/hwmon/hwmon0/temp1_input");
        } else if (driver == "modbus") {
            set("host", server.address());
            options.set("address", std::int64_t{1});
            options.set("register", std::int64_t{0});
            set("format", "int16");
            set("unit", "degC");
        } else if (driver == "mqtt") {
            set("broker", server.address());
            set("topic", "smoker/grate");
            set("unit", "degC");
        } else if (driver.starts_with("max")) {
            set("type",
                "K");  // a thermocouple chip cannot hold its bus; what can hang is the kernel's answer
            set("spi", sys / "spidev0.0");
            hang("spidev0.0");
        } else if (driver == "gpio-switch") {
            set("chip", "no-such-chip");
            options.set("line", std::int64_t{5});
        } else {
            return false;
        }
        return true;
    }
};

}  // namespace

TEST_CASE("a device that never answers costs no other probe a reading, is told, and stops within a second") {
    DriverBench bench;
    test::TempFolder good;
    put(good / "class/hwmon/hwmon0/name", "board");
    put(good / "class/hwmon/hwmon0/temp1_input", "23125");
    Options neighbour;
    neighbour.set("device", std::string("board"));
    neighbour.set("root", good.path());
    auto const healthy =
        find_driver("hwmon")->make(bench.context(), {DriverBench::probe(0, neighbour, Span(50))});

    struct Mute {
        DriverInfo const* info;
        int probe;
        std::shared_ptr<Driver> driver;
    };
    std::vector<std::unique_ptr<Silence>> silences;
    std::vector<Mute> mutes;
    std::vector<std::string> without_device;
    for (auto const* driver : drivers()) {
        auto silence = std::make_unique<Silence>();
        if (!silence->of(driver->name)) {
            without_device.emplace_back(driver->name);
            continue;
        }
        int const probe = static_cast<int>(mutes.size()) + 1;
        mutes.push_back(
            {driver, probe,
             driver->make(bench.context(), {DriverBench::probe(probe, silence->options, Span(200))})});
        silences.push_back(std::move(silence));
    }
    CHECK(without_device == std::vector<std::string>{"recorded", "simulated"});

    healthy->start();
    for (auto const& mute : mutes) mute.driver->start();
    auto const told = [&](Mute const& mute) {
        return bench.last_fault(mute.probe) ||
               (mute.info->name == "gpio-switch" && bench.had_event("switch-lost"));
    };
    bench.run_until([&] { return std::ranges::all_of(mutes, told); }, 20'000ms);
    bench.run_for(500ms);
    for (auto const& mute : mutes) {
        INFO("driver " << mute.info->name);
        CHECK(told(mute));
        CHECK(bench.good(mute.probe).empty());
    }
    // What a driver does on the io_context thread itself would hold this one up as well.
    auto const& rows = bench.readings[0];
    REQUIRE(rows.size() > 20);
    Span longest{};
    for (std::size_t i = 1; i < rows.size(); ++i) longest = std::max(longest, rows[i].at - rows[i - 1].at);
    CHECK(longest < Span(2000));
    auto const mean = (rows.back().at - rows.front().at) / static_cast<long>(rows.size() - 1);
    CHECK(mean < Span(200));  // 50 ms, on a busy machine

    auto const count = [&] {
        std::size_t sum = 0;
        for (auto const& [probe, readings] : bench.readings) sum += readings.size();
        return sum;
    };
    for (auto const& mute : mutes) {
        INFO("driver " << mute.info->name);
        auto const before = std::chrono::steady_clock::now();
        mute.driver->stop();
        CHECK(std::chrono::steady_clock::now() - before < 1s);
    }
    healthy->stop();
    auto const at_stop = count();
    bench.io.restart();
    bench.io.run_for(1s);
    CHECK(bench.io.stopped());  // nothing waits any more
    CHECK(count() == at_stop);
}
