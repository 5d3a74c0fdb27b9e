// The contract of every driver. A driver yields readings; it never throws across a reading, reconnects by
// itself, and says why it cannot. Everything here is called on the io_context thread, and a driver calls its
// sink on that thread only (blocking devices run on their own thread and post).
#pragma once

#include <functional>
#include <memory>
#include <span>
#include <string>
#include <string_view>
#include <vector>

#include "drivers/api/asio.hpp"
#include "drivers/api/options.hpp"
#include "drivers/reading/reading.hpp"

namespace ingle {

// One probe as the kitchen file wires it. `number` is its place in the kitchen file, from 0.
struct ProbeWiring {
    int number = 0;
    std::string name;
    Span every{1000};
    Options options;
};

class ReadingSink {
public:
    virtual void on_reading(int probe, Reading reading) = 0;
    // Something worth a line in the record that is no reading: "source restarted", "start-up value ignored".
    virtual void on_driver_event(int probe, std::string_view event, std::string text) = 0;
    // A real switch on a line: `name` is the probe's name in the kitchen file.
    virtual void on_switch(int probe, Instant at, bool closed) = 0;

protected:
    ~ReadingSink() = default;
};

enum class Severity { detail, note, trouble };

struct DriverContext {
    boost::asio::io_context& io;
    ReadingSink& sink;
    std::function<void(Severity, std::string)> log;  // never empty
};

class Driver : public std::enable_shared_from_this<Driver> {
public:
    virtual ~Driver() = default;
    virtual void start() = 0;
    virtual void stop() = 0;  // idempotent; sets a flag, closes, cancels, waits for nothing that can hang
};

struct DriverInfo {
    std::string_view name;
    std::string_view summary;             // one line for the README table and `ingle probe list`
    std::span<OptionInfo const> options;  // besides name, driver, every, plausible, calibration
    // Probes whose values of these options are equal share one driver object (a port, a bus, a broker).
    std::span<std::string_view const> shared;
    // Throws std::runtime_error with a sentence where these options can never work.
    std::shared_ptr<Driver> (*make)(DriverContext, std::vector<ProbeWiring>);
};

}  // namespace ingle
