// Runs a driver for a while and keeps what it says. For tests; one thread.
#pragma once

#include <map>
#include <string>
#include <vector>

#include "drivers/api/driver.hpp"

namespace ingle::test {

struct DriverRig final : ReadingSink {
    boost::asio::io_context io;
    std::map<int, std::vector<Reading>> readings;
    std::vector<std::string> events, logged;

    DriverContext context() {
        return {io, *this, [this](Severity, std::string text) { logged.push_back(std::move(text)); }};
    }
    void on_reading(int probe, Reading reading) override { readings[probe].push_back(std::move(reading)); }
    void on_driver_event(int, std::string_view event, std::string text) override {
        events.push_back(std::string(event) + ": " + text);
    }
    void on_switch(int, Instant, bool) override {}

    // Lets the driver work until this holds; false if it does not within 10 s.
    template <class Condition>
    bool run_until(Condition holds) {
        auto const end = BootClock::now() + Span{10'000};
        while (!holds()) {
            if (BootClock::now() > end) return false;
            io.restart();
            io.run_one_for(std::chrono::milliseconds(20));
        }
        return true;
    }
    // The same for this long, whatever comes.
    void run_for(Span span) {
        io.restart();
        io.run_for(span);
    }
};

inline ProbeWiring wiring(int number, std::string name, Span every, Options options) {
    return {number, std::move(name), every, std::move(options)};
}

}  // namespace ingle::test
