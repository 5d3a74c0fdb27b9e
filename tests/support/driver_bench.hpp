// Where a driver under test puts its readings, and the loop that it runs on. One thread.
#pragma once

#include <map>
#include <string>
#include <tuple>
#include <utility>
#include <vector>

#include "drivers/api/driver.hpp"

namespace ingle::test {

class DriverBench final : public ReadingSink {
public:
    void on_reading(int probe, Reading reading) override { readings[probe].push_back(std::move(reading)); }
    void on_driver_event(int probe, std::string_view event, std::string text) override {
        events.emplace_back(probe, std::string(event), std::move(text));
    }
    void on_switch(int probe, Instant at, bool closed) override { switches.emplace_back(probe, at, closed); }

    DriverContext context() {
        return {io, *this, [this](Severity, std::string text) { log.push_back(std::move(text)); }};
    }
    static ProbeWiring probe(int number, Options options, Span every = Span(1000)) {
        return {number, "probe-" + std::to_string(number), every, std::move(options)};
    }
    // Runs the loop until `done` or for at most `limit`; true if it was done.
    template <class Done>
    bool run_until(Done done, std::chrono::milliseconds limit = std::chrono::milliseconds(3000)) {
        auto const end = std::chrono::steady_clock::now() + limit;
        while (!done()) {
            if (std::chrono::steady_clock::now() >= end) return false;
            io.restart();
            io.run_for(std::chrono::milliseconds(5));
        }
        return true;
    }
    void run_for(std::chrono::milliseconds length) {
        run_until([] { return false; }, length);
    }
    std::vector<double> good(int probe) {
        std::vector<double> values;
        for (auto const& reading : readings[probe])
            if (reading.ok()) values.push_back(reading.celsius());
        return values;
    }
    Fault const* last_fault(int probe) {
        auto const& all = readings[probe];
        return all.empty() || all.back().ok() ? nullptr : &all.back().fault();
    }
    bool logged(std::string_view part) const {
        for (auto const& line : log)
            if (line.find(part) != std::string::npos) return true;
        return false;
    }
    bool had_event(std::string_view name) const {
        for (auto const& [probe, event, text] : events)
            if (event == name) return true;
        return false;
    }

    boost::asio::io_context io;
    std::map<int, std::vector<Reading>> readings;
    std::vector<std::tuple<int, std::string, std::string>> events;
    std::vector<std::tuple<int, Instant, bool>> switches;
    std::vector<std::string> log;
};

}  // namespace ingle::test
