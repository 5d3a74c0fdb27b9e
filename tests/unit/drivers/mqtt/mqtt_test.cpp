#include <arpa/inet.h>
#include <netinet/in.h>
#include <signal.h>
#include <spawn.h>
#include <sys/socket.h>
#include <sys/wait.h>

#include <mosquitto.h>

#include <array>
#include <fstream>
#include <future>
#include <thread>

#include "config/civil_time/iso_time.hpp"
#include "drivers/mqtt/decode.hpp"
#include "tests/support/catch.hpp"
#include "tests/support/driver_bench.hpp"
#include "tests/support/pty.hpp"

extern char** environ;

namespace ingle {
extern DriverInfo const mqtt_driver;
}

using namespace ingle;
using namespace std::chrono_literals;
using test::DriverBench;

namespace {

WallTime const noon = *parse_iso_time("2026-11-26T12:00:00Z");
Clocks const now{Instant{Span(500'000)}, noon};
MessageMeaning const plain{"", "time", TextUnit::celsius};
MessageMeaning const json{"t", "time", TextUnit::celsius};

pid_t run(std::vector<std::string> words) {
    std::vector<char*> arguments;
    for (auto& word : words) arguments.push_back(word.data());
    arguments.push_back(nullptr);
    pid_t pid = -1;
    REQUIRE(::posix_spawnp(&pid, arguments[0], nullptr, nullptr, arguments.data(), environ) == 0);
    return pid;
}

// A real broker on a free loopback port, and its own command-line client as the sender.
class Broker {
public:
    Broker() {
        int const fd = ::socket(AF_INET, SOCK_STREAM | SOCK_CLOEXEC, 0);
        sockaddr_in place{};
        place.sin_family = AF_INET;
        place.sin_addr.s_addr = htonl(INADDR_LOOPBACK);
        socklen_t length = sizeof place;
        REQUIRE(::bind(fd, reinterpret_cast<sockaddr*>(&place), length) == 0);
        ::getsockname(fd, reinterpret_cast<sockaddr*>(&place), &length);
        ::close(fd);
        port_ = std::to_string(ntohs(place.sin_port));
        std::ofstream(folder_ / "conf")
            << "listener " << port_ << " 127.0.0.1\nallow_anonymous true\nlog_dest none\n";
        start();
    }
    ~Broker() { stop(); }
    void start() {
        auto const path = ::access("/usr/sbin/mosquitto", X_OK) == 0 ? "/usr/sbin/mosquitto" : "mosquitto";
        pid_ = run({path, "-c", folder_ / "conf"});
    }
    void stop() {
        if (pid_ > 0) {
            ::kill(pid_, SIGKILL);
            ::waitpid(pid_, nullptr, 0);
        }
        pid_ = -1;
    }
    std::string address() const { return "127.0.0.1:" + port_; }

private:
    test::TempFolder folder_;
    std::string port_;
    pid_t pid_ = -1;
};

}  // namespace

TEST_CASE("a payload is a value, or a field of JSON with its own time") {
    CHECK(decode_message("88.5", false, plain, now).celsius() == 88.5);
    CHECK(decode_message("88.5", false, plain, now).at == now.at);
    CHECK_THAT(decode_message("190.2F", false, {"", "time", {}}, now).celsius(),
               WithinAbs(158.2 / 1.8, 1e-9));
    CHECK(decode_message(R"({"t": 88.5})", false, json, now).celsius() == 88.5);
    CHECK(decode_message(R"({"a": {"t": "4.1 C"}})", false, {"a.t", "time", {}}, now).celsius() == 4.1);
    for (auto const* time : {R"("2026-11-26T12:59:30+01:00")", "1795694370", "1795694370000", "1795694370.5"})
        CHECK(decode_message(std::string(R"({"t": 88.5, "time": )") + time + "}", false, json, now).ok());
}

TEST_CASE("old, early and kept values are refused; the sender's own time decides") {
    auto const kind = [](std::string_view payload, bool retained, Clocks clocks) {
        auto const reading = decode_message(payload, retained, json, clocks);
        return reading.ok() ? std::string("good") : std::string(to_word(reading.fault().kind));
    };
    CHECK(kind(R"({"t": 88.5, "time": "2026-11-26T11:58:59Z"})", false, now) == "stale");
    CHECK(kind(R"({"t": 88.5, "time": "2026-11-26T11:59:01Z"})", false, now) == "good");
    CHECK(kind(R"({"t": 88.5, "time": "2026-11-26T12:01:01Z"})", false, now) == "stale");
    CHECK(kind(R"({"t": 88.5})", true, now) == "stale");
    CHECK(kind(R"({"t": 88.5, "time": "2026-11-26T11:30:00Z"})", true, now) == "stale");
    CHECK(kind(R"({"t": 88.5, "time": "2026-11-26T11:59:30Z"})", true, now) == "good");
    CHECK(decode_message(R"({"t": 88.5, "time": "2026-11-26T11:59:30Z"})", true, json, now).at ==
          now.at - Span(30'000));
    CHECK(kind(R"({"t": 88.5, "time": "noon"})", false, now) == "garbled");
    Clocks const unset{now.at, std::nullopt};  // a board that does not know the time yet
    CHECK(kind(R"({"t": 88.5, "time": "2026-11-26T11:00:00Z"})", false, unset) == "good");
    CHECK(kind(R"({"t": 88.5, "time": "2026-11-26T11:59:59Z"})", true, unset) == "stale");
}

TEST_CASE("what is no value is a fault") {
    for (auto const* payload : {"", " ", "offline", "\"offline\"", "GONE"})
        CHECK(decode_message(payload, false, plain, now).fault().kind == FaultKind::no_reply);
    for (auto const* payload :
         {"{", "[]", "{}", R"({"u": 1})", R"({"t": {}})", R"({"t": true})", "12", "null"})
        CHECK(decode_message(payload, false, json, now).fault().kind == FaultKind::garbled);
    CHECK(decode_message(R"({"t": null})", false, json, now).fault().kind == FaultKind::unspecified);
    CHECK(decode_message("nan", false, plain, now).fault().kind == FaultKind::unspecified);
    CHECK(decode_message("58,5", false, plain, now).fault().kind == FaultKind::garbled);
    CHECK(decode_message("88.5", false, {"", "time", {}}, now).fault().kind == FaultKind::garbled);
}

TEST_CASE("a real broker: readings, a kept value, a last will, the broker gone and back") {
    Broker broker;
    std::this_thread::sleep_for(200ms);
    auto const publish = [&](std::string const& topic, std::string const& payload, bool keep) {
        mosquitto* sender = mosquitto_new(nullptr, true, nullptr);
        auto const colon = broker.address().find(':');
        REQUIRE(mosquitto_connect(sender, "127.0.0.1", std::stoi(broker.address().substr(colon + 1)), 10) ==
                MOSQ_ERR_SUCCESS);
        mosquitto_loop(sender, 200, 1);
        mosquitto_publish(sender, nullptr, topic.c_str(), static_cast<int>(payload.size()), payload.data(), 0,
                          keep);
        for (int i = 0; i < 3; ++i) mosquitto_loop(sender, 20, 1);
        mosquitto_disconnect(sender);
        mosquitto_destroy(sender);
    };
    DriverBench bench;
    Options smoker, fridge;
    for (auto* options : {&smoker, &fridge}) options->set("broker", broker.address());
    smoker.set("topic", std::string("yard/smoker"));
    smoker.set("field", std::string("celsius"));
    smoker.set("unit", std::string("degC"));
    smoker.set("status", std::string("yard/state"));
    fridge.set("topic", std::string("fridge"));
    auto const driver = mqtt_driver.make(bench.context(), {DriverBench::probe(0, smoker, Span(200)),
                                                           DriverBench::probe(1, fridge, Span(200))});
    publish("fridge", "4.0 C", true);  // kept by the broker before anybody listened
    driver->start();
    REQUIRE(bench.run_until([&] { return bench.last_fault(1) != nullptr; }));
    CHECK(bench.last_fault(1)->kind == FaultKind::stale);
    publish("fridge", "4.1 C", false);
    auto const wall =
        std::chrono::time_point_cast<std::chrono::milliseconds>(std::chrono::system_clock::now());
    publish("yard/smoker", R"({"celsius": 93.25, "time": ")" + iso_time(wall) + R"("})", false);
    publish("yard/smoker",
            R"({"celsius": 20.0, "time": ")" + iso_time(wall - std::chrono::minutes(5)) + R"("})", false);
    REQUIRE(bench.run_until([&] { return bench.readings[0].size() >= 2 && !bench.good(1).empty(); }));
    CHECK(bench.good(0) == std::vector<double>{93.25});
    CHECK(bench.good(1) == std::vector<double>{4.1});
    REQUIRE(bench.last_fault(0));
    CHECK(bench.last_fault(0)->kind == FaultKind::stale);

    // The sender by the smoker dies without a word: its last will speaks.
    mosquitto* sender = mosquitto_new(nullptr, true, nullptr);
    mosquitto_will_set(sender, "yard/state", 7, "offline", 0, false);
    auto const port = std::stoi(broker.address().substr(broker.address().find(':') + 1));
    REQUIRE(mosquitto_connect(sender, "127.0.0.1", port, 10) == MOSQ_ERR_SUCCESS);
    for (int i = 0; i < 3; ++i) mosquitto_loop(sender, 50, 1);
    mosquitto_destroy(sender);  // the socket closes, no farewell
    REQUIRE(bench.run_until(
        [&] { return bench.last_fault(0) && bench.last_fault(0)->kind == FaultKind::no_reply; }));
    CHECK_THAT(bench.last_fault(0)->reason, INGLE_CONTAINS("gone"));

    broker.stop();
    REQUIRE(bench.run_until(
        [&] { return bench.logged("no connection") || bench.logged("lost") || bench.log.size() >= 2; },
        5000ms));
    broker.start();
    REQUIRE(
        bench.run_until([&] { return bench.log.back().find("connected") != std::string::npos; }, 12'000ms));
    publish("fridge", "4.2 C", false);
    CHECK(bench.run_until([&] { return bench.good(1).size() == 2; }));
    auto const before = std::chrono::steady_clock::now();
    driver->stop();
    CHECK(std::chrono::steady_clock::now() - before < 1s);
}

TEST_CASE("a broker that gives no topic is not called connected") {
    bool const refuses = GENERATE(true, false);
    std::string const says =
        refuses ? "it does not let this user read \"fridge\"" : "it answers no subscription";
    int const listener = ::socket(AF_INET, SOCK_STREAM | SOCK_CLOEXEC, 0);
    sockaddr_in place{};
    place.sin_family = AF_INET;
    place.sin_addr.s_addr = htonl(INADDR_LOOPBACK);
    socklen_t length = sizeof place;
    REQUIRE(::bind(listener, reinterpret_cast<sockaddr*>(&place), length) == 0);
    REQUIRE(::listen(listener, 1) == 0);
    ::getsockname(listener, reinterpret_cast<sockaddr*>(&place), &length);
    // MQTT 3.1.1, 3.2 and 3.9: CONNACK, and a SUBACK whose return code 0x80 is a refusal.
    auto const peer = std::async(std::launch::async, [listener, refuses] {
        int const link = ::accept(listener, nullptr, nullptr);
        std::array<unsigned char, 256> bytes{};
        std::array<unsigned char, 4> const greeting{0x20, 2, 0, 0};
        if (::recv(link, bytes.data(), bytes.size(), 0) > 0)
            ::send(link, greeting.data(), greeting.size(), 0);
        if (::recv(link, bytes.data(), bytes.size(), 0) > 4 && refuses) {
            std::array<unsigned char, 5> const refusal{0x90, 3, bytes[2], bytes[3], 0x80};
            ::send(link, refusal.data(), refusal.size(), 0);
        }
        while (::recv(link, bytes.data(), bytes.size(), 0) > 0) {
        }
        ::close(link);
    });
    DriverBench bench;
    Options options;
    options.set("broker", "127.0.0.1:" + std::to_string(ntohs(place.sin_port)));
    options.set("topic", std::string("fridge"));
    auto const driver = mqtt_driver.make(bench.context(), {DriverBench::probe(0, options)});
    driver->start();
    CHECK(bench.run_until([&] { return bench.logged(says); }, 20'000ms));
    CHECK_FALSE(bench.logged("connected"));
    driver->stop();
    ::close(listener);
}

TEST_CASE("no broker, wrong addresses, wildcards") {
    DriverBench bench;
    Options options;
    options.set("broker", std::string("127.0.0.1:9"));
    options.set("topic", std::string("fridge"));
    auto const driver = mqtt_driver.make(bench.context(), {DriverBench::probe(0, options)});
    driver->start();
    CHECK(bench.run_until([&] { return !bench.log.empty(); }));
    driver->stop();
    auto wild = options;
    wild.set("topic", std::string("yard/#"));
    CHECK_THROWS_WITH(mqtt_driver.make(bench.context(), {DriverBench::probe(0, wild)}),
                      INGLE_CONTAINS("wildcard"));
    options.set("broker", std::string("here:there"));
    CHECK_THROWS_WITH(mqtt_driver.make(bench.context(), {DriverBench::probe(0, options)}),
                      INGLE_CONTAINS("host:port"));
}
