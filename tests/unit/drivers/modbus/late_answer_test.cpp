// An answer that comes after its question was given up must never be taken for the answer to a later one.
#include <arpa/inet.h>
#include <netinet/in.h>
#include <poll.h>
#include <sys/socket.h>
#include <unistd.h>

#include <atomic>
#include <cerrno>
#include <chrono>
#include <deque>
#include <functional>
#include <future>
#include <optional>
#include <string>
#include <system_error>
#include <thread>
#include <utility>
#include <vector>

#include "drivers/modbus/line.hpp"
#include "tests/support/catch.hpp"
#include "tests/support/driver_bench.hpp"
#include "tests/support/modbus_frame.hpp"
#include "tests/support/pty.hpp"

namespace ingle {
extern DriverInfo const modbus_driver;
}

using namespace ingle;
using namespace std::chrono_literals;
using Clock = std::chrono::steady_clock;
using test::DriverBench;

namespace {

// Registers whose value is 100 times the address: a value tells which question it answers.
std::string value_of(std::string const& pdu) {
    int const first = static_cast<unsigned char>(pdu[2]), count = static_cast<unsigned char>(pdu[4]);
    std::string answer{pdu[0], static_cast<char>(2 * count)};
    for (int value = 100 * first; value < 100 * (first + count); value += 100) {
        answer += static_cast<char>(value >> 8);
        answer += static_cast<char>(value & 0xFF);
    }
    return answer;
}

// Sends each answer so long after its question, in order, whatever is asked meanwhile.
template <class Port>
class LateUnit {
public:
    using Delay = std::function<std::chrono::milliseconds(int question)>;
    explicit LateUnit(Delay delay) : delay_(std::move(delay)), thread_([this] { run(); }) {}
    ~LateUnit() {
        stop_ = true;
        thread_.join();
    }
    Port port;
    std::atomic<int> asked{0};

private:
    void run() {
        std::deque<std::pair<Clock::time_point, std::string>> due;
        while (!stop_) {
            if (auto answer = port.question()) {
                due.emplace_back(Clock::now() + delay_(asked), std::move(*answer));
                ++asked;
            }
            if (!due.empty() && due.front().first <= Clock::now()) {
                port.answer(due.front().second);
                due.pop_front();
            }
            std::this_thread::sleep_for(1ms);
        }
    }
    Delay delay_;
    std::atomic<bool> stop_{false};
    std::thread thread_;
};

struct SerialUnit {
    test::Pty pty;
    std::string pending;
    std::optional<std::string> question() {
        pending += pty.take();
        if (pending.size() < 8) return std::nullopt;
        auto const frame = std::exchange(pending, pending.substr(8)).substr(0, 8);
        return test::with_crc(frame.substr(0, 1) + value_of(frame.substr(1)));
    }
    void answer(std::string const& bytes) { pty.send(bytes); }
    ModbusPlace place() const {
        ModbusPlace place;
        place.port = pty.path();
        place.parity = 'N';
        return place;
    }
};

// A gateway: it takes a new connection, and gives it what its own line says late, under the newest question's
// number.
struct TcpGateway {
    int listener = ::socket(AF_INET, SOCK_STREAM | SOCK_CLOEXEC | SOCK_NONBLOCK, 0), peer = -1;
    int port = 0;
    std::string head;
    TcpGateway() {
        sockaddr_in where{};
        where.sin_family = AF_INET;
        where.sin_addr.s_addr = htonl(INADDR_LOOPBACK);
        socklen_t length = sizeof where;
        // Made in a thread of its own, where the assertions of the test program must not be used.
        if (::bind(listener, reinterpret_cast<sockaddr*>(&where), length) != 0 || ::listen(listener, 4) != 0)
            throw std::system_error(errno, std::system_category(), "a gateway of the test");
        ::getsockname(listener, reinterpret_cast<sockaddr*>(&where), &length);
        port = ntohs(where.sin_port);
    }
    ~TcpGateway() {
        ::close(listener);
        ::close(peer);
    }
    std::optional<std::string> question() {
        if (int const fresh = ::accept4(listener, nullptr, nullptr, SOCK_NONBLOCK | SOCK_CLOEXEC);
            fresh >= 0) {
            ::close(peer);
            peer = fresh;
        }
        char frame[12];
        if (peer < 0 || ::recv(peer, frame, sizeof frame, MSG_PEEK) < 12) return std::nullopt;
        if (::read(peer, frame, sizeof frame) != 12) return std::nullopt;
        head.assign(frame, 4);
        return std::string(1, frame[6]) + value_of(std::string(frame + 7, 5));
    }
    void answer(std::string const& unit_and_pdu) const {
        auto const bytes = head + std::string{0, static_cast<char>(unit_and_pdu.size())} + unit_and_pdu;
        (void)::send(peer, bytes.data(), bytes.size(), MSG_NOSIGNAL);
    }
    ModbusPlace place() const {
        ModbusPlace place;
        place.host = "127.0.0.1";
        place.service = std::to_string(port);
        return place;
    }
};

struct Turns {
    int right = 0, wrong = 0, asked = 0;
};

// Two registers of one unit, read in turns.
template <class Port>
Turns read_in_turns(std::function<std::chrono::milliseconds(int)> delay) {
    LateUnit<Port> unit(std::move(delay));
    ModbusLine line(unit.port.place());
    Turns turns;
    auto const end = Clock::now() + 5500ms;
    for (int turn = 0; Clock::now() < end; ++turn) {
        int const first = 1 + turn % 2;
        auto const result = line.read(1, 4, first, 1);
        if (auto const* words = std::get_if<std::vector<std::uint16_t>>(&result))
            ++(words->at(0) == 100 * first ? turns.right : turns.wrong);
        std::this_thread::sleep_for(20ms);
    }
    turns.asked = unit.asked;
    return turns;
}

// All of them at the same time: they wait for most of it.
template <class Port>
std::vector<Turns> each_of(std::vector<std::chrono::milliseconds> const& late, bool always) {
    std::vector<std::future<Turns>> running;
    for (auto const by : late)
        running.push_back(std::async(std::launch::async, [by, always] {
            return read_in_turns<Port>([by, always](int q) { return always || q == 2 ? by : 20ms; });
        }));
    std::vector<Turns> all;
    for (auto& one : running) all.push_back(one.get());
    return all;
}

}  // namespace

TEST_CASE("a unit that is late once, by any amount, is never one answer behind: serial line") {
    for (auto const& turns : each_of<SerialUnit>({520ms, 900ms, 1300ms, 1600ms, 1950ms}, false)) {
        CHECK(turns.wrong == 0);
        CHECK(turns.right >= 5);
    }
}

TEST_CASE("a unit that is always late is a fault, and no row has another probe's value: serial line") {
    for (auto const& turns : each_of<SerialUnit>({600ms, 1200ms, 1600ms, 2050ms}, true)) {
        CHECK(turns.wrong == 0);
        CHECK(turns.right == 0);
        CHECK(turns.asked >= 2);
    }
}

TEST_CASE("a gateway whose line answers late is never one answer behind: TCP") {
    for (auto const& turns : each_of<TcpGateway>({900ms, 1600ms, 1950ms}, false)) {
        CHECK(turns.wrong == 0);
        CHECK(turns.right >= 5);
    }
}

TEST_CASE("two probes of one line never have a row with each other's value") {
    LateUnit<SerialUnit> unit([](int question) { return question % 10 == 3 ? 1550ms : 20ms; });
    DriverBench bench;
    std::vector<ProbeWiring> probes;
    for (int first : {1, 2}) {
        Options options;
        options.set("port", unit.port.pty.path());
        options.set("parity", std::string("none"));
        options.set("address", std::int64_t{1});
        options.set("register", std::int64_t{first});
        options.set("format", std::string("int16"));
        options.set("unit", std::string("degC"));
        options.set("scale", 0.1);
        probes.push_back(DriverBench::probe(first, std::move(options), Span(200)));
    }
    auto const driver = modbus_driver.make(bench.context(), probes);
    driver->start();
    CHECK(bench.run_until([&] { return bench.good(1).size() >= 4 && bench.good(2).size() >= 4; }, 20'000ms));
    driver->stop();
    for (int first : {1, 2})
        for (double const celsius : bench.good(first)) CHECK(celsius == 10.0 * first);
}

TEST_CASE("every 5th answer late: no value is another probe's, and both probes are still read") {
    auto const late_by = GENERATE(560ms, 1100ms);
    CAPTURE(late_by.count());
    LateUnit<SerialUnit> unit([late_by](int question) { return question % 5 == 4 ? late_by : 20ms; });
    DriverBench bench;
    std::vector<ProbeWiring> probes;
    for (int first : {1, 2}) {
        Options options;
        options.set("port", unit.port.pty.path());
        options.set("parity", std::string("none"));
        options.set("address", std::int64_t{1});
        options.set("register", std::int64_t{first});
        options.set("format", std::string("int16"));
        options.set("unit", std::string("degC"));
        options.set("scale", 0.1);
        probes.push_back(DriverBench::probe(first, std::move(options), Span(200)));
    }
    auto const driver = modbus_driver.make(bench.context(), probes);
    driver->start();
    // Once it has been late it is waited for: from then on each question has its answer.
    CHECK(bench.run_until([&] { return bench.good(1).size() >= 4 && bench.good(2).size() >= 4; }, 30'000ms));
    auto const faults = [&](int probe) { return bench.readings[probe].size() - bench.good(probe).size(); };
    auto const lost = faults(1) + faults(2);
    int const asked = unit.asked;
    CHECK(bench.run_until([&] { return unit.asked >= asked + 10; }, 30'000ms));
    driver->stop();
    CHECK(faults(1) + faults(2) == lost);
    for (int first : {1, 2})
        for (double const celsius : bench.good(first)) CHECK(celsius == 10.0 * first);
}
