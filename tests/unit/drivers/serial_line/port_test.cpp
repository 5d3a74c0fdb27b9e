// The serial-line driver on real pseudo-terminals: opening, pulling, plugging, stopping.
#include <grp.h>
#include <sys/file.h>
#include <sys/wait.h>

#include <ctime>

#include <fstream>

#include "tests/support/catch.hpp"
#include "tests/support/driver_bench.hpp"
#include "tests/support/long_form.hpp"
#include "tests/support/pty.hpp"

namespace ingle {
extern DriverInfo const serial_line_driver;
}

using namespace ingle;
using namespace std::chrono_literals;
using test::DriverBench;
using test::Pty;
using test::relink;
using test::TempFolder;

namespace {

Options wired(std::string const& port, std::string const& channel = "1", std::string const& unit = "degC") {
    Options options;
    options.set("port", port);
    options.set("channel", channel);
    if (!unit.empty()) options.set("unit", unit);
    return options;
}

std::shared_ptr<Driver> started(DriverBench& bench, std::string const& port, Span every = Span(100)) {
    auto driver = serial_line_driver.make(bench.context(), {DriverBench::probe(0, wired(port, "P1"), every),
                                                            DriverBench::probe(1, wired(port, "P2"), every)});
    driver->start();
    return driver;
}

double cpu_seconds() {
    timespec t{};
    clock_gettime(CLOCK_PROCESS_CPUTIME_ID, &t);
    return static_cast<double>(t.tv_sec) + static_cast<double>(t.tv_nsec) * 1e-9;
}

}  // namespace

TEST_CASE("two probes share a port; CRLF is split; old settings and old bytes do no harm") {
    DriverBench bench;
    Pty device;
    device.send("P1=1.0\nP1=1.0\nP1=1.0\nP1=1.0\n");  // stale: nobody had the port open
    auto const driver = started(bench, device.path());
    bench.run_for(50ms);
    CHECK(bench.readings.empty());
    while (!device.take().empty()) continue;  // the echo of a tty that nobody had set yet
    for (auto const* piece : {"8.4\r\nP1=88", ".5\r", "\nP2=4.1\r\n", "P1=88.6\r\nP2=4.0\r\n"}) {
        device.send(piece);
        bench.run_for(30ms);
    }
    CHECK(bench.good(0) == std::vector<double>{88.5, 88.6});
    CHECK(bench.good(1) == std::vector<double>{4.1, 4.0});
    CHECK(device.take().empty());  // raw: nothing is echoed to the instrument
    driver->stop();
}

TEST_CASE("the tty in between changes nothing, whatever the size of the pieces") {
    std::string const lines =
        "P1=88.5\r\nP2=4.1\r\nP1=ERR\r\nP1=88.6\nP2=open\nP1=190.2F\n# hm\n\nP2=3.9\r\nP1=58,5\r\n";
    for (std::size_t piece = 1; piece <= 69; piece += 4) {
        DriverBench bench;
        Pty device;
        auto const driver = started(bench, device.path(), Span(10'000));
        bench.run_for(10ms);
        device.send("\nP1=88.5\nP2=4.1\nP1=88.5\nP2=4.1\n");
        REQUIRE(bench.run_until([&] { return bench.readings[1].size() == 2; }));
        for (std::size_t from = 0; from < lines.size(); from += piece) {
            device.send(std::string_view(lines).substr(from, piece));
            bench.io.restart();
            bench.io.poll();
        }
        CHECK(bench.run_until([&] { return bench.readings[0].size() == 7; }));
        CHECK(bench.good(0) == std::vector<double>{88.5, 88.5, 88.5, 88.6});
        CHECK(bench.good(1) == std::vector<double>{4.1, 4.1, 4.1, 3.9});
        driver->stop();
    }
}

// field case B6, B7
TEST_CASE(
    "pulled: closed at once, no spinning, a fault per probe and period; plugged in under another name: back "
    "(B6, B7)") {
    DriverBench bench;
    TempFolder folder;
    auto const link = folder / "by-id-of-the-instrument";
    auto first = std::make_unique<Pty>();
    relink(first->path(), link);
    auto const driver = started(bench, link);
    bench.run_for(30ms);
    first->send("\nP1=88.5\nP1=88.5\nP2=4\nP2=4\n");
    REQUIRE(bench.run_until([&] { return bench.good(1).size() == 2; }));
    first.reset();
    std::filesystem::remove(link);
    auto const before = cpu_seconds();
    bench.run_for(7s);
    CHECK(cpu_seconds() - before <
          3.5);  // a spinning loop takes all of it; the bench itself polls every 5 ms
    REQUIRE(bench.last_fault(0));
    CHECK(bench.last_fault(0)->kind == FaultKind::absent);
    CHECK(bench.last_fault(1)->kind == FaultKind::absent);
    auto const faults = bench.readings[0].size() - 2;
    CHECK(faults >= 30);
    CHECK(faults <= 70);
    CHECK(bench.good(0).size() == 2);
    CHECK(bench.log.size() <= 3);  // told when it changes, not at every attempt
    Pty second;
    relink(second.path(), link);
    REQUIRE(bench.run_until([&] { return bench.had_event("source-restarted"); }, 6000ms));
    second.send("\nP1=0.00\nP1=70\nP1=70.5\n");
    REQUIRE(bench.run_until([&] { return bench.good(0).size() == 4; }));
    CHECK(bench.good(0) == std::vector<double>{88.5, 88.5, 70, 70.5});
    driver->stop();
}

// field case B6
TEST_CASE("an empty read that is no hang-up does not end the reading (B6)") {
    DriverBench bench;
    Pty device;
    auto const driver = started(bench, device.path());
    bench.run_for(30ms);
    device.send("\nP1=88.5\nP1=88.5\n");
    REQUIRE(bench.run_until([&] { return bench.good(0).size() == 2; }));
    termios modes{};
    REQUIRE(tcgetattr(device.fd(), &modes) == 0);
    modes.c_lflag |= ICANON;  // as another program would: now an end-of-file character reads as 0 bytes
    modes.c_cc[VEOF] = 4;
    REQUIRE(tcsetattr(device.fd(), TCSANOW, &modes) == 0);
    device.send("\x04");
    bench.run_for(60ms);
    device.send("P1=88.6\n");
    REQUIRE(bench.run_until([&] { return bench.good(0).size() == 3; }));
    CHECK_FALSE(bench.had_event("source-restarted"));
    driver->stop();
}

TEST_CASE("silence is a fault for each probe at its period") {
    DriverBench bench;
    Pty device;
    auto const driver = started(bench, device.path());
    bench.run_for(750ms);
    REQUIRE(bench.last_fault(0));
    CHECK(bench.last_fault(0)->kind == FaultKind::no_reply);
    CHECK(bench.readings[0].size() >= 3);
    CHECK(bench.readings[0].size() <= 5);
    CHECK(bench.readings[1].size() >= 3);
    driver->stop();
}

// field case B16
TEST_CASE("absent at the start; appears later (B16)") {
    DriverBench bench;
    TempFolder folder;
    auto const driver = started(bench, folder / "nothing-here");
    bench.run_for(test::long_form() ? 4min : 500ms);
    REQUIRE(bench.last_fault(0));
    CHECK(bench.last_fault(0)->kind == FaultKind::absent);
    CHECK_THAT(bench.last_fault(0)->reason, INGLE_CONTAINS("nothing-here"));
    Pty device;
    relink(device.path(), folder / "nothing-here");
    REQUIRE(bench.run_until([&] { return bench.logged("open again"); }, 10s));
    device.send("\nP1=88.5\nP1=88.5\n");
    CHECK(bench.run_until([&] { return bench.good(0).size() == 2; }));
    driver->stop();
}

// field case B16
TEST_CASE("the service manager never gives up on us") {
    std::ifstream unit(TEST_SOURCE "/config/system/ingled.service");
    std::string const text{std::istreambuf_iterator<char>(unit), {}};
    CHECK_THAT(text, INGLE_CONTAINS("StartLimitIntervalSec=0\n"));
    CHECK_THAT(text, INGLE_CONTAINS("Restart=always\n"));
}

// field case B10
TEST_CASE("somebody else holds the port: quiet at first, then free (B10)") {
    DriverBench bench;
    Pty device;
    int const other = ::open(device.path().c_str(), O_RDWR | O_NOCTTY | O_CLOEXEC);
    REQUIRE(::flock(other, LOCK_EX) == 0);
    auto const driver = started(bench, device.path());
    bench.run_for(12s);
    CHECK(bench.readings.empty());
    CHECK(bench.log.empty());
    ::close(other);
    bench.run_for(1200ms);
    device.send("\nP1=88.5\nP1=88.5\n");
    CHECK(bench.run_until([&] { return bench.good(0).size() == 2; }));
    SECTION("and nobody else gets it while we read") {
        int const second = ::open(device.path().c_str(), O_RDWR | O_NOCTTY | O_NONBLOCK | O_CLOEXEC);
        CHECK((second < 0 || ::flock(second, LOCK_EX | LOCK_NB) != 0));
        if (second >= 0) ::close(second);
    }
    driver->stop();
}

// field case B9
TEST_CASE("no permission names the path, its group and ours (B9)") {
    if (::geteuid() != 0) {
        WARN("skipped: only root can give a device to another group");
        return;
    }
    Pty device;
    REQUIRE(::chown(device.path().c_str(), 0, 46) == 0);
    REQUIRE(::chmod(device.path().c_str(), 0660) == 0);
    int pipe[2];
    REQUIRE(::pipe(pipe) == 0);
    auto const child = ::fork();
    if (child == 0) {
        gid_t const groups[] = {65534};
        if (::setgroups(1, groups) != 0 || ::setgid(65534) != 0 || ::setuid(65534) != 0) ::_exit(1);
        DriverBench bench;
        auto const driver = started(bench, device.path());
        bench.run_for(450ms);
        driver->stop();
        auto const* fault = bench.last_fault(0);
        auto const text = fault ? std::string(to_word(fault->kind)) + " " + fault->reason : "none";
        (void)!::write(pipe[1], text.data(), text.size());
        ::_exit(0);
    }
    char text[512] = {};
    ::close(pipe[1]);
    (void)!::read(pipe[0], text, sizeof text - 1);
    ::close(pipe[0]);
    ::waitpid(child, nullptr, 0);
    CHECK_THAT(std::string(text), INGLE_CONTAINS("refused"));
    CHECK_THAT(std::string(text), INGLE_CONTAINS(device.path()));
    auto const* group = ::getgrgid(46);
    CHECK_THAT(std::string(text), INGLE_CONTAINS(group ? group->gr_name : "46"));
    CHECK_THAT(std::string(text), INGLE_CONTAINS("this process belongs to"));
}

TEST_CASE("what is no serial port is refused in words") {
    DriverBench bench;
    auto const driver = started(bench, "/dev/null");
    bench.run_for(450ms);
    REQUIRE(bench.last_fault(0));
    CHECK(bench.last_fault(0)->kind == FaultKind::refused);
    CHECK_THAT(bench.last_fault(0)->reason, INGLE_CONTAINS("no serial port"));
    driver->stop();
}

TEST_CASE("a source that speaks more rarely than the file says is not silent between its lines") {
    DriverBench bench;
    Pty device;
    auto const driver = started(bench, device.path());  // every 0.1 s, says the file
    bench.run_for(20ms);
    auto const speak = [&](int times) {
        for (int i = 0; i < times; ++i) {
            device.send("P1=88.5 P2=4.1\n");
            bench.run_for(600ms);
        }
    };
    auto const lost = [&] {
        return std::ranges::count_if(bench.readings[0], [](auto const& reading) { return !reading.ok(); });
    };
    speak(4);
    CHECK(lost() > 0);  // not known yet
    auto const before = lost();
    speak(4);
    CHECK(lost() == before);
    bench.run_for(2500ms);
    CHECK(lost() > before);  // and silent when three of its own periods are over
    driver->stop();
}

TEST_CASE("started and stopped a thousand times, at every stage; nothing is left over") {
    DriverBench bench;
    Pty device;
    for (int round = 0; round < 1000; ++round) {
        auto driver = started(bench, round % 5 == 4 ? "/dev/nothing-here" : device.path());
        std::weak_ptr<Driver> const left = driver;
        if (round % 3 == 1) {
            bench.io.restart();
            bench.io.poll();
        }
        if (round % 3 == 2) {
            device.send("P1=1\nP1=1\n");
            bench.io.restart();
            bench.io.poll();
        }
        driver->stop();
        driver->stop();
        driver.reset();
        bench.io.restart();
        bench.io.poll();
        REQUIRE(left.expired());
    }
}

TEST_CASE("stopping waits for nothing, and nothing is told after it") {
    DriverBench bench;
    Pty device;
    auto driver = started(bench, device.path());
    bench.run_for(50ms);
    auto const before = std::chrono::steady_clock::now();
    driver->stop();
    device.send("\nP1=88.5\nP1=88.5\n");
    bench.io.restart();
    bench.io.run();  // ends: no operation is left
    CHECK(std::chrono::steady_clock::now() - before < 1s);
    CHECK(bench.readings.empty());
}

TEST_CASE("what can never work is said when the driver is made") {
    DriverBench bench;
    auto slow = wired("/dev/ttyS0", "P1");
    slow.set("baud", std::int64_t{9601});
    CHECK_THROWS_WITH(serial_line_driver.make(bench.context(), {DriverBench::probe(0, slow)}),
                      INGLE_CONTAINS("9601"));
    auto fast = wired("/dev/ttyS0", "P2");
    fast.set("baud", std::int64_t{115200});
    CHECK_THROWS_WITH(
        serial_line_driver.make(
            bench.context(), {DriverBench::probe(0, wired("/dev/ttyS0", "P1")), DriverBench::probe(1, fast)}),
        INGLE_CONTAINS("differ"));
    CHECK_THROWS_WITH(
        serial_line_driver.make(bench.context(), {DriverBench::probe(0, wired("/dev/ttyS0", "P1")),
                                                  DriverBench::probe(1, wired("/dev/ttyS0", "P1"))}),
        INGLE_CONTAINS("both read"));
}
