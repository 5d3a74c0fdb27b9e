// The drivers of a kitchen: made from its probes, started, stopped, and heard. io thread.
#pragma once

#include <functional>
#include <map>
#include <memory>
#include <string>
#include <vector>

#include "config/settings.hpp"
#include "daemon/wiring/wiring.hpp"
#include "drivers/api/driver.hpp"

namespace ingle {

class Probes {
public:
    using Log = std::function<void(Severity, std::string)>;

    // A driver that cannot be made is left out: its probes report why, and the others run.
    Probes(boost::asio::io_context& io, Settings const& settings, ReadingSink& sink, Log log);

    // Before start: a driver of `earlier` that would be made anew just as it is goes on instead, and reads
    // through the change. Not where a file that it reads has changed, nor where what it shares with others
    // has.
    void take_from(Probes& earlier);
    void start();
    void stop();

    // Every probe that should have been heard by now was heard: a reading, or a fault that its driver
    // reports. A contact speaks only when it changes, and a recording that has ended says nothing more.
    bool all_heard(Instant now) const;
    void heard(int probe, Instant at) { heard_[static_cast<std::size_t>(probe)] = at; }
    void has_ended(int probe) { ended_[static_cast<std::size_t>(probe)] = true; }
    bool goes_on(std::string const& name) const;  // its driver is one of an earlier kitchen's
    std::string const& trouble(int probe) const { return trouble_[static_cast<std::size_t>(probe)]; }

private:
    struct Relay final : ReadingSink {
        explicit Relay(ReadingSink& sink) : to(&sink) {}
        void on_reading(int probe, Reading reading) override;
        void on_driver_event(int probe, std::string_view event, std::string text) override;
        void on_switch(int probe, Instant at, bool closed) override;

        ReadingSink* to;
        std::map<int, int> number;  // in the kitchen of now, by the driver's own
    };
    struct Source {
        DriverInfo const* info;
        std::vector<ProbeWiring> wirings;
        std::string files;  // that it reads, as they were when it was made
        bool shares;        // something with other drivers
        std::unique_ptr<Relay> relay;
        std::shared_ptr<Driver> driver;
        bool started = false;
    };
    static bool alike(Source const& one, Source const& other);

    Settings const& settings_;
    ReadingSink& sink_;
    std::vector<Source> sources_;
    std::vector<std::string> trouble_;
    std::vector<Instant> heard_;
    std::vector<bool> ended_;
};

}  // namespace ingle
