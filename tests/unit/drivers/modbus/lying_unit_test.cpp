// A unit that answers what was not asked, with a right checksum, on a real serial line: never a value, always
// a reason, and heard again as soon as it tells the truth.
#include <atomic>
#include <chrono>
#include <functional>
#include <future>
#include <memory>
#include <string>
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
using test::DriverBench;
using test::with_crc;

namespace {

// Registers hold 100 times their address, so that a value tells which question it answers.
std::string values(int unit, int function, int first, int count) {
    std::string frame{static_cast<char>(unit), static_cast<char>(function), static_cast<char>(2 * count)};
    for (int i = 0; i < count; ++i) {
        int const value = 100 * (first + i);
        frame += static_cast<char>(value >> 8);
        frame += static_cast<char>(value & 0xFF);
    }
    return with_crc(frame);
}

// Answers each question by `answer(first register, count)`.
class Unit {
public:
    using Answer = std::function<std::string(int first, int count)>;
    explicit Unit(Answer answer) : answer_(std::move(answer)), thread_([this] { run(); }) {}
    ~Unit() {
        stop_ = true;
        thread_.join();
    }
    std::string path() const { return pty_.path(); }

private:
    void run() {
        std::string pending;
        while (!stop_) {
            pending += pty_.take();
            if (pending.size() >= 8) {
                auto const first = static_cast<unsigned char>(pending[3]);
                auto const count = static_cast<unsigned char>(pending[5]);
                pending.erase(0, 8);
                pty_.send(answer_(first, count));
            }
            std::this_thread::sleep_for(1ms);
        }
    }
    test::Pty pty_;
    Answer answer_;
    std::atomic<bool> stop_{false};
    std::thread thread_;
};

ModbusPlace on(Unit const& unit) {
    ModbusPlace place;
    place.port = unit.path();
    place.parity = 'N';
    return place;
}

Options wired(Unit const& unit, int first, std::string const& format) {
    Options options;
    options.set("port", unit.path());
    options.set("parity", std::string("none"));
    options.set("address", std::int64_t{1});
    options.set("register", std::int64_t{first});
    options.set("format", format);
    options.set("unit", std::string("degC"));
    options.set("scale", 0.1);
    return options;
}

struct Lie {
    char const* what;
    std::function<std::string(int first, int count)> answer;
    FaultKind kind;
    char const* reason;
};

std::vector<Lie> lies() {
    auto const garbled = FaultKind::garbled;
    auto const belongs = "does not belong to the question";
    std::vector<Lie> all{
        {"twice as many registers", [](int f, int n) { return values(1, 4, f, 2 * n); }, garbled, belongs},
        {"no register", [](int f, int) { return values(1, 4, f, 0); }, garbled, belongs},
        {"120 registers", [](int f, int) { return values(1, 4, f, 120); }, garbled, belongs},
        {"half a register",
         [](int, int) {
             return with_crc({1, 4, 1, 7});
         },
         garbled, belongs},
        {"a byte count without its bytes",
         [](int f, int n) { return values(1, 4, f, n).replace(2, 1, 1, '\x08'); }, FaultKind::no_reply,
         "does not answer"},
        {"another reading function", [](int f, int n) { return values(1, 3, f, n); }, garbled, belongs},
        {"the answer to a write",
         [](int, int) {
             return with_crc({1, 6, 0, 5, 0, 9});
         },
         garbled, belongs},
        {"a function that is not there", [](int f, int n) { return values(1, 0x55, f, n); }, garbled, ""},
        {"another unit", [](int f, int n) { return values(2, 4, f, n); }, garbled, "another one answered"},
        {"unit 0", [](int f, int n) { return values(0, 4, f, n); }, garbled, "another one answered"},
        {"the exception of another function",
         [](int, int) {
             return with_crc({1, '\x83', 2});
         },
         garbled, belongs},
        {"an exception without a meaning",
         [](int, int) {
             return with_crc({1, '\x84', 0x33});
         },
         garbled, ""},
        {"exception 0",
         [](int, int) {
             return with_crc({1, '\x84', 0});
         },
         garbled, ""},
    };
    for (char const code : {'\x01', '\x02', '\x03', '\x04', '\x05', '\x06', '\x08', '\x0a', '\x0b'})
        all.push_back({"a published exception",
                       [code](int, int) {
                           return with_crc({1, '\x84', code});
                       },
                       FaultKind::unspecified, "refuses"});
    return all;
}

}  // namespace

TEST_CASE("what was not asked is never a value: length, function, unit, exception") {
    struct Liar {
        explicit Liar(Lie told)
            : lie(std::move(told)), unit([this](int first, int count) {
                  return honest ? values(1, 4, first, count) : lie.answer(first, count);
              }) {}
        Lie lie;
        std::atomic<bool> honest{false};
        Unit unit;
    };
    DriverBench bench;
    std::vector<std::unique_ptr<Liar>> liars;
    std::vector<std::shared_ptr<Driver>> drivers;
    for (auto& lie : lies()) {
        auto const number = static_cast<int>(liars.size());
        auto const& liar = liars.emplace_back(std::make_unique<Liar>(std::move(lie)));
        drivers.push_back(modbus_driver.make(
            bench.context(), {DriverBench::probe(number, wired(liar->unit, 5, "int16"), Span(50))}));
        drivers.back()->start();
    }
    auto const all = [&](auto met) {
        return [&liars, met] {
            for (int i = 0; i < static_cast<int>(liars.size()); ++i)
                if (!met(i)) return false;
            return true;
        };
    };
    CHECK(bench.run_until(all([&](int i) { return bench.readings[i].size() >= 2; }), 15'000ms));
    for (int i = 0; i < static_cast<int>(liars.size()); ++i) {
        auto const& lie = liars[static_cast<std::size_t>(i)]->lie;
        INFO(lie.what);
        CHECK(bench.good(i).empty());
        bool named = false;  // on a busy machine a frame may come in two halves, and once be no answer at all
        for (auto const& reading : bench.readings[i])
            named = named || (reading.fault().kind == lie.kind &&
                              reading.fault().reason.find(lie.reason) != std::string::npos);
        CHECK(named);
    }
    for (auto& liar : liars) liar->honest = true;
    CHECK(bench.run_until(all([&](int i) { return !bench.good(i).empty(); }), 15'000ms));
    for (auto const& driver : drivers) driver->stop();
    for (int i = 0; i < static_cast<int>(liars.size()); ++i)
        for (double const celsius : bench.good(i)) CHECK(celsius == 50.0);
}

TEST_CASE("the answer to the question before, with a right checksum, is never a value") {
    // A gateway that gives each question the answer to the one before, from its first question on.
    std::string kept = values(1, 4, 7, 1);
    Unit behind([&](int first, int count) { return std::exchange(kept, values(1, 4, first, count)); });
    // A unit that says everything twice, the second time while the next question is on its way.
    std::string said;
    Unit twice([&](int first, int count) {
        auto const now = values(1, 4, first, count);
        return std::exchange(said, now) + (count == 1 ? now : "");
    });
    struct Turns {
        int right = 0, wrong = 0, faults = 0;
    };
    auto const ask = [](Unit& unit) {
        ModbusLine line(on(unit));
        Turns turns;
        for (int first : {1, 2, 3, 1}) {
            auto const told = line.read(1, 4, first, 1);
            auto const* words = std::get_if<std::vector<std::uint16_t>>(&told);
            ++(!words ? turns.faults : words->at(0) == 100 * first ? turns.right : turns.wrong);
        }
        return turns;
    };
    auto other = std::async(std::launch::async, ask, std::ref(behind));
    for (auto const& turns : {ask(twice), other.get()}) {
        CHECK(turns.wrong == 0);
        CHECK(turns.faults > 0);
    }
}

TEST_CASE("an answer that another program's question left on the line is not ours") {
    // What a daemon that was killed had asked for comes between the next one's first question and its answer.
    std::string left = values(1, 4, 9, 1);
    Unit unit([&](int first, int count) { return std::exchange(left, "") + values(1, 4, first, count); });
    ModbusLine line(on(unit));
    for (int turn = 0; turn < 3; ++turn) {
        auto const told = line.read(1, 4, 5, 1);
        REQUIRE(std::holds_alternative<std::vector<std::uint16_t>>(told));
        CHECK(std::get<std::vector<std::uint16_t>>(told).at(0) == 500);
    }
}
