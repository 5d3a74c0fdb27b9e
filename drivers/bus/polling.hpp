// One thread for one blocking device: reads each probe at its period and posts to the io_context thread. A
// read that never returns costs no other device a reading, is reported, and does not delay stop().
#pragma once

#include <memory>
#include <optional>
#include <string>
#include <utility>
#include <vector>

#include "drivers/api/driver.hpp"
#include "drivers/bus/device_thread.hpp"

namespace ingle {

struct Polled {
    std::optional<Reading> reading;                           // none: this poll has nothing to say
    std::optional<bool> closed;                               // of a switch, when it changed
    std::vector<std::pair<std::string, std::string>> events;  // event, text
    std::optional<Span> again{};                              // read this probe again so soon, out of turn
};

// Lives on the device thread only (made and destroyed elsewhere, never at the same time).
class PolledDevice {
public:
    virtual ~PolledDevice() = default;
    // May block; never throws for what can happen while running: that is a fault. `probe`: its place in the
    // list. Opens and re-opens by itself.
    virtual Polled read(std::size_t probe) = 0;
    // Longer than this (and than two periods) without an answer is a fault. Any thread.
    virtual Span longest_wait() const { return Span(1500); }
};

// ", 4.2 degC now" or ", no value now: why": for what a driver found.
std::string value_now(PolledDevice& device);

class PollingDriver final : public Driver {
public:
    PollingDriver(DriverContext context, std::vector<ProbeWiring> probes,
                  std::unique_ptr<PolledDevice> device);
    void start() override;
    void stop() override;

private:
    void deliver(std::size_t index, Polled polled);
    void watch_silence(std::size_t index);
    void tell(std::size_t index, Reading reading);

    DriverContext context_;
    std::vector<ProbeWiring> probes_;
    std::shared_ptr<PolledDevice> device_;  // used by the thread alone
    Span longest_wait_;
    DeviceThread thread_;
    std::vector<boost::asio::steady_timer> timers_;
    std::vector<Instant> last_;
    std::vector<std::string> trouble_;  // the fault last logged, per probe
    std::vector<unsigned long> faults_;
    bool started_ = false, stopping_ = false;
};

}  // namespace ingle
