#include <arpa/inet.h>
#include <netinet/in.h>
#include <signal.h>
#include <spawn.h>
#include <sys/socket.h>
#include <sys/wait.h>

#include <atomic>
#include <chrono>
#include <functional>
#include <thread>

#include "drivers/modbus/decode.hpp"
#include "drivers/modbus/line.hpp"
#include "tests/support/catch.hpp"
#include "tests/support/driver_bench.hpp"
#include "tests/support/modbus_frame.hpp"
#include "tests/support/pty.hpp"
#include "tests/support/rows.hpp"

extern char** environ;

namespace ingle {
extern DriverInfo const modbus_driver;
}

using namespace ingle;
using namespace std::chrono_literals;
using test::DriverBench;

namespace {

std::string bytes_of(std::string_view hex) {
    std::string bytes;
    for (std::size_t i = 0; i + 1 < hex.size(); i += 3)
        bytes += static_cast<char>(std::stoi(std::string(hex.substr(i, 2)), nullptr, 16));
    return bytes;
}

// A unit at the other end of a serial line: answers each whole request (8 bytes) as the test says. It has no
// more than `count` registers, and refuses to read beyond them.
class Peer {
public:
    using Answer = std::function<std::string(std::string const& request)>;
    explicit Peer(Answer answer, int count = 1)
        : count_(count), answer_(std::move(answer)), thread_([this] { run(); }) {}
    ~Peer() {
        stop_ = true;
        thread_.join();
    }
    std::string path() const { return pty_.path(); }
    void send(std::string_view bytes) { pty_.send(bytes); }
    std::atomic<int> requests{0};

private:
    void run() {
        std::string request;
        while (!stop_) {
            request += pty_.take();
            if (request.size() >= 8) {
                auto const whole = request.substr(0, 8);
                request.erase(0, 8);
                if (whole[5] > count_) {
                    pty_.send(test::with_crc({whole[0], static_cast<char>(whole[1] | 0x80), 2}));
                    continue;
                }
                ++requests;
                pty_.send(answer_(whole));
            }
            std::this_thread::sleep_for(1ms);
        }
    }
    test::Pty pty_;
    int count_;
    Answer answer_;
    std::atomic<bool> stop_{false};
    std::thread thread_;
};

using Result = std::variant<std::vector<std::uint16_t>, Fault>;

ModbusPlace on(std::string const& path) {
    ModbusPlace place;
    place.port = path;
    place.parity = 'N';
    return place;
}

Result ask_once(std::string const& answer, int unit = 1, int function = 4, int first = 0, int count = 1) {
    Peer peer([&](std::string const&) { return bytes_of(answer); }, count);
    ModbusLine line(on(peer.path()));
    return line.read(unit, function, first, count);
}

std::string reason(Result const& result) {
    REQUIRE(std::holds_alternative<Fault>(result));
    return std::get<Fault>(result).reason;
}

double tenths(Result const& result) {
    REQUIRE(std::holds_alternative<std::vector<std::uint16_t>>(result));
    RegisterMeaning meaning;
    meaning.scale = 0.1;
    return std::get<double>(decode_registers(std::get<std::vector<std::uint16_t>>(result), meaning));
}

struct Server {
    pid_t pid = -1;
    Server(std::string const& kind, std::string const& place) {
        std::string python = "/usr/bin/python3", script = TEST_DATA "/unit/drivers/modbus/pymodbus_server.py";
        std::string first = kind, second = place;
        char* const arguments[] = {python.data(), script.data(), first.data(), second.data(), nullptr};
        REQUIRE(::posix_spawn(&pid, python.c_str(), nullptr, nullptr, arguments, environ) == 0);
    }
    ~Server() {
        ::kill(pid, SIGKILL);
        ::waitpid(pid, nullptr, 0);
    }
};

int free_port() {
    int const fd = ::socket(AF_INET, SOCK_STREAM | SOCK_CLOEXEC, 0);
    sockaddr_in place{};
    place.sin_family = AF_INET;
    place.sin_addr.s_addr = htonl(INADDR_LOOPBACK);
    socklen_t length = sizeof place;
    REQUIRE(::bind(fd, reinterpret_cast<sockaddr*>(&place), length) == 0);
    ::getsockname(fd, reinterpret_cast<sockaddr*>(&place), &length);
    ::close(fd);
    return ntohs(place.sin_port);
}

Options wired(int unit, int first, std::string const& format, double scale = 1.0,
              std::string const& unit_name = "degC") {
    Options options;
    options.set("parity", std::string("none"));
    options.set("address", std::int64_t{unit});
    options.set("register", std::int64_t{first});
    options.set("format", format);
    options.set("scale", scale);
    options.set("unit", unit_name);
    options.set("fault-values", std::vector<std::int64_t>{32767});
    return options;
}

void check_against_server(std::string const& key, std::string const& where) {
    DriverBench bench;
    std::vector<ProbeWiring> probes;
    auto const add = [&](Options options) {
        options.set(key, where);
        probes.push_back(DriverBench::probe(static_cast<int>(probes.size()), std::move(options), Span(100)));
    };
    add(wired(1, 0, "int16", 0.1));
    add(wired(1, 1, "int16", 0.1));
    add(wired(1, 2, "float32"));
    auto cdab = wired(1, 4, "float32");
    cdab.set("word-order", std::string("CDAB"));
    cdab.set("function", std::int64_t{3});
    add(cdab);
    add(wired(1, 6, "int16", 0.1));
    add(wired(1, 7, "uint16", 0.1, "degF"));
    add(wired(7, 0, "int16", 0.1));
    add(wired(1, 900, "int16", 0.1));
    auto const driver = modbus_driver.make(bench.context(), probes);
    driver->start();
    REQUIRE(bench.run_until([&] { return bench.good(6).size() >= 2; }, 15'000ms));
    CHECK(bench.run_until(
        [&] { return bench.last_fault(7) && bench.last_fault(7)->kind == FaultKind::unspecified; }));
    double const expected[] = {-18.0, 84.5, 100.0, 100.0, 0, 95.0, 4.1};
    for (int probe : {0, 1, 2, 3, 5, 6}) {
        INFO("probe " << probe);
        REQUIRE_FALSE(bench.good(probe).empty());
        for (auto const celsius : bench.good(probe)) CHECK_THAT(celsius, WithinAbs(expected[probe], 1e-4));
    }
    REQUIRE(bench.last_fault(4));
    CHECK_THAT(bench.last_fault(4)->reason, INGLE_CONTAINS("32767"));
    CHECK_THAT(bench.last_fault(7)->reason, INGLE_CONTAINS("exception 2"));
    driver->stop();
}

}  // namespace

// tests/reference/sensing/modbus.csv names its sources; the float values are in its description column.
TEST_CASE("published answers are taken, published exceptions and broken frames are not") {
    int answers = 0, exceptions = 0, broken = 0;
    for (auto const& row : test::rows("reference/sensing/modbus.csv")) {
        auto const& hex = row.at("frame_hex");
        auto const frame = bytes_of(hex);
        auto const unit = static_cast<unsigned char>(frame[0]);
        auto const function = static_cast<unsigned char>(frame[1]);
        INFO(hex);
        if (row.at("description").starts_with("response FC0") && (function == 3 || function == 4)) {
            int const count = static_cast<unsigned char>(frame[2]) / 2;
            auto const result = ask_once(hex, unit, function, 0, count);
            REQUIRE(std::holds_alternative<std::vector<std::uint16_t>>(result));
            auto const& words = std::get<std::vector<std::uint16_t>>(result);
            for (std::size_t i = 0; i < words.size(); ++i)
                CHECK(words[i] == ((static_cast<unsigned char>(frame[3 + 2 * i]) << 8) |
                                   static_cast<unsigned char>(frame[4 + 2 * i])));
            if (count == 8) {
                float const floats[] = {5866.143F, 0.871482F, 139.1015F, 6731.227F};
                RegisterMeaning meaning{RegisterFormat::float32, WordOrder::cdab, 1.0, TextUnit::celsius, {}};
                CHECK_THAT(std::get<double>(decode_registers(std::span(words).subspan(4, 2), meaning)),
                           WithinRel(static_cast<double>(floats[2]), 1e-6));
                CHECK_THAT(std::get<double>(decode_registers(std::span(words).subspan(2, 2), meaning)),
                           WithinRel(static_cast<double>(floats[1]), 1e-6));
            }
            ++answers;
        } else if (function == 0x83 || function == 0x84) {
            CHECK_THAT(reason(ask_once(hex, unit, function & 0x7F)),
                       INGLE_CONTAINS("exception " + std::to_string(frame[2])));
            ++exceptions;
        } else if (row.at("crc_ok") == "no") {
            CHECK(std::holds_alternative<Fault>(ask_once(hex, unit, function)));
            ++broken;
        }
    }
    CHECK(answers >= 10);
    CHECK(exceptions == 5);
    CHECK(broken == 2);
}

// field case B13, A21
TEST_CASE("signs, scales, units and fault values are as the kitchen file says (B13, A21)") {
    CHECK_THAT(tenths(ask_once("01 04 02 FF FF B8 80")), WithinAbs(-0.1, 1e-9));
    CHECK_THAT(tenths(ask_once("01 04 02 FF 4C F9 35")), WithinAbs(-18.0, 1e-9));
    // A21: no fault bit tells this one from a temperature; the probe's plausible range does, in the core.
    CHECK_THAT(tenths(ask_once("01 04 02 05 DC BB F9")), WithinAbs(150.0, 1e-9));
    RegisterMeaning meaning;
    meaning.scale = 0.1;
    meaning.fault_values = {32767, -32768};
    std::uint16_t const open[] = {0x7FFF}, disabled[] = {0x8000}, warm[] = {845};
    CHECK(std::holds_alternative<Fault>(decode_registers(open, meaning)));
    CHECK(std::holds_alternative<Fault>(decode_registers(disabled, meaning)));
    CHECK_THAT(std::get<double>(decode_registers(warm, meaning)), WithinAbs(84.5, 1e-9));
    CHECK(std::holds_alternative<Fault>(decode_registers({}, meaning)));
    meaning.format = RegisterFormat::float32;
    CHECK(std::holds_alternative<Fault>(decode_registers(warm, meaning)));
    std::uint16_t const quiet_nan[] = {0x7FC0, 0};
    CHECK(std::get<Fault>(decode_registers(quiet_nan, meaning)).kind == FaultKind::unspecified);
    // 100.0 and -5.5 in the four orders.
    meaning.scale = 1.0;
    std::pair<WordOrder, std::array<std::uint16_t, 4>> const orders[] = {
        {WordOrder::abcd, {0x42C8, 0x0000, 0xC0B0, 0x0000}},
        {WordOrder::cdab, {0x0000, 0x42C8, 0x0000, 0xC0B0}},
        {WordOrder::badc, {0xC842, 0x0000, 0xB0C0, 0x0000}},
        {WordOrder::dcba, {0x0000, 0xC842, 0x0000, 0xB0C0}}};
    for (auto const& [order, words] : orders) {
        meaning.order = order;
        CHECK(std::get<double>(decode_registers(std::span(words).first(2), meaning)) == 100.0);
        CHECK(std::get<double>(decode_registers(std::span(words).last(2), meaning)) == -5.5);
    }
    meaning = {RegisterFormat::int32, WordOrder::abcd, 0.01, TextUnit::fahrenheit, {}};
    std::uint16_t const minus[] = {0xFFFF, 0xFF9C};  // -1.00 degF
    CHECK_THAT(std::get<double>(decode_registers(minus, meaning)), WithinAbs(-33.0 / 1.8, 1e-9));
}

// field case B11, B12
TEST_CASE("an echo, a bad checksum, a wrong unit and a refusal are four different faults (B11, B12)") {
    CHECK_THAT(reason(ask_once("01 04 00 00 00 01 31 CA 01 04 02 03 B6 38 76")), INGLE_CONTAINS("echoes"));
    CHECK_THAT(reason(ask_once("01 04 02 03 B6 38 77")), INGLE_CONTAINS("checksum"));
    CHECK_THAT(reason(ask_once("02 04 02 03 B6 7C 76")), INGLE_CONTAINS("another one answered"));
    CHECK_THAT(reason(ask_once("01 84 02 C2 C1")), INGLE_CONTAINS("counted from 0"));
    CHECK_THAT(reason(ask_once("")), INGLE_CONTAINS("does not answer"));
}

// field case B12
TEST_CASE("after a stray byte the next question is in step again (B12)") {
    int asked = 0;
    Peer peer([&](std::string const&) {
        return bytes_of(++asked == 1 ? "00 01 04 02 03 B6 38 76" : "01 04 02 03 B6 38 76");
    });
    ModbusLine line(on(peer.path()));
    CHECK(std::holds_alternative<Fault>(line.read(1, 4, 0, 1)));
    CHECK_THAT(tenths(line.read(1, 4, 0, 1)), WithinAbs(95.0, 1e-9));
}

TEST_CASE("an independent Modbus server agrees, over TCP") {
    auto const port = std::to_string(free_port());
    Server const server("tcp", port);
    check_against_server("host", "127.0.0.1:" + port);
}

TEST_CASE("an independent Modbus server agrees, over a serial line") {
    // Two pseudo-terminals, joined: the server opens one, the driver the other.
    struct Wire {
        test::Pty ours, theirs;
        std::atomic<bool> stop{false};
        std::thread thread{[this] {
            while (!stop) {
                ours.send(theirs.take());
                theirs.send(ours.take());
                std::this_thread::sleep_for(1ms);
            }
        }};
        ~Wire() {
            stop = true;
            thread.join();
        }
    } wire;
    Server const server("rtu", wire.theirs.path());
    check_against_server("port", wire.ours.path());
}

TEST_CASE("a unit that is off takes no turns from the others on its line, and is heard when it is back") {
    std::atomic<bool> off{true};
    std::atomic<int> asked_in_vain{0};
    Peer peer([&](std::string const& request) -> std::string {
        if (request[0] == 1) return bytes_of("01 04 02 03 B6 38 76");
        if (!off) return bytes_of("02 04 02 03 B6 7C 76");
        ++asked_in_vain;
        return "";
    });
    DriverBench bench;
    std::vector<ProbeWiring> probes;
    for (int unit : {1, 2}) {
        auto options = wired(unit, 0, "int16", 0.1);
        options.set("port", peer.path());
        probes.push_back(DriverBench::probe(unit - 1, std::move(options), Span(100)));
    }
    auto const driver = modbus_driver.make(bench.context(), probes);
    driver->start();
    REQUIRE(bench.run_until([&] { return asked_in_vain == 2 && bench.readings[1].size() >= 3; }, 8000ms));
    auto const before = bench.good(0).size();
    bench.run_for(1000ms);
    CHECK(bench.good(0).size() >= before + 6);
    CHECK(asked_in_vain == 2);
    CHECK_THAT(bench.last_fault(1)->reason, INGLE_CONTAINS("unit 2 does not answer"));
    off = false;
    CHECK(bench.run_until([&] { return !bench.good(1).empty(); }, 15'000ms));
    driver->stop();
}

TEST_CASE("a line that is not there is told and retried; stopping does not wait") {
    DriverBench bench;
    auto absent = wired(1, 0, "int16");
    absent.set("port", std::string("/dev/nothing-here"));
    auto refused = wired(1, 0, "int16");
    refused.set("host", "127.0.0.1:" + std::to_string(free_port()));
    test::Pty silent;
    auto mute = wired(1, 0, "int16");
    mute.set("port", silent.path());
    std::vector<std::shared_ptr<Driver>> drivers;
    for (auto const& [number, options] : {std::pair{0, absent}, std::pair{1, refused}, std::pair{2, mute}})
        drivers.push_back(
            modbus_driver.make(bench.context(), {DriverBench::probe(number, options, Span(50))}));
    for (auto const& driver : drivers) driver->start();
    CHECK(bench.run_until([&] { return bench.last_fault(0) && bench.last_fault(1) && bench.last_fault(2); }));
    CHECK(bench.last_fault(0)->kind == FaultKind::absent);
    CHECK(bench.last_fault(2)->kind == FaultKind::no_reply);
    auto const before = std::chrono::steady_clock::now();
    for (auto const& driver : drivers) driver->stop();
    CHECK(std::chrono::steady_clock::now() - before < 1s);
    CHECK_THROWS_WITH(modbus_driver.make(bench.context(), {DriverBench::probe(0, wired(1, 0, "int16"))}),
                      INGLE_CONTAINS("either port"));
}
