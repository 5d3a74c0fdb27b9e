// The contract of every driver. A driver yields readings; it never throws across a reading, reconnects by
// itself, and says why it cannot. Everything here is called on the io_context thread, and a driver calls its
// sink on that thread only (blocking devices run on their own thread and post).
#pragma once

#include <functional>
#include <map>
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

// What drivers of different kinds share within one daemon, found by a name: the lines of one SPI bus. Used
// while drivers are made, on the io_context thread only; what is found takes care of its own threads.
class Commons {
public:
    template <class T>
    std::shared_ptr<T> find_or_make(std::string const& name) {
        ++asked_;
        auto& place = things_[name];
        auto thing = std::static_pointer_cast<T>(place.lock());
        if (!thing) place = thing = std::make_shared<T>();
        return thing;
    }

    int asked() const { return asked_; }  // how often something was

private:
    std::map<std::string, std::weak_ptr<void>> things_;  // one type to a name
    int asked_ = 0;
};

struct DriverContext {
    boost::asio::io_context& io;
    ReadingSink& sink;
    std::function<void(Severity, std::string)> log;  // never empty
    std::shared_ptr<Commons> commons{};              // null: this driver shares nothing
};

class Driver : public std::enable_shared_from_this<Driver> {
public:
    virtual ~Driver() = default;
    virtual void start() = 0;
    virtual void stop() = 0;  // idempotent; sets a flag, closes, cancels, waits for nothing that can hang
};

// A device that is there and that a kitchen file could name.
struct Found {
    struct Option {
        std::string_view key;
        std::string value;                // as it should be written
        std::vector<std::string> also{};  // other values that mean the same device
    };
    std::string what;             // in words, with its value now where that is cheap
    std::vector<Option> options;  // those that lead to it
};

struct DriverInfo {
    std::string_view name;
    std::string_view summary;             // one line for the README table and `ingle probe list`
    std::span<OptionInfo const> options;  // besides name, driver, every, plausible, calibration
    // Probes whose values of these options are equal share one driver object (a port, a bus, a broker).
    std::span<std::string_view const> shared;
    // Throws std::runtime_error with a sentence where these options can never work.
    std::shared_ptr<Driver> (*make)(DriverContext, std::vector<ProbeWiring>);
    // The devices that this driver could read now; null: it cannot search. May read them, and so take a
    // second each; opens no port and takes no line. `root` stands in for "/" in tests. Any thread.
    std::vector<Found> (*find)(std::string const& root) = nullptr;
    bool contact = false;  // it tells a switch, and no temperature
};

}  // namespace ingle
