// A serial port that only listens: opens it raw and exclusively, gives the bytes as they come, closes at once
// when the device goes and tries again by itself. Owned by a driver through shared_ptr; io_context thread
// only.
#pragma once

#include <array>
#include <memory>
#include <string>
#include <string_view>

#include "drivers/api/asio.hpp"
#include "drivers/reading/reading.hpp"

namespace ingle {

enum class Parity { none, even, odd };

struct SerialSettings {
    std::string path;  // a link is resolved anew at every attempt
    unsigned baud = 9600;
    Parity parity = Parity::none;
    std::string root = "/";                               // where the names of devices are looked up
    std::chrono::milliseconds first_retry{250};           // then doubled ...
    std::chrono::milliseconds longest_retry{5000};        // ... up to this; a slow board boots in less
    std::chrono::milliseconds refused_retry{10'000};      // permissions change by hand only
    std::chrono::milliseconds busy_is_quiet_for{30'000};  // a modem prober holds a new port for some 10 s
};

bool is_serial_speed(unsigned baud);  // one that the kernel has a name for, 300 ... 4000000

class SerialListener {
public:
    virtual void on_open() = 0;
    virtual void on_bytes(Instant at, std::string_view bytes) = 0;
    // The port is not open, and why; told when the reason changes, not at every attempt. Kind: absent,
    // refused.
    virtual void on_trouble(Fault why) = 0;

protected:
    ~SerialListener() = default;
};

class SerialPort : public std::enable_shared_from_this<SerialPort> {
public:
    SerialPort(boost::asio::io_context& io, SerialSettings settings, std::weak_ptr<SerialListener> listener);
    void start();  // once
    void stop();   // idempotent; no call of the listener begins after it

private:
    boost::asio::awaitable<void> run(std::shared_ptr<SerialPort> self);
    boost::asio::awaitable<void> listen();
    boost::asio::awaitable<void> pause(std::chrono::milliseconds length);
    bool open();
    void close();
    void trouble(Fault why);

    SerialSettings settings_;
    std::weak_ptr<SerialListener> listener_;
    boost::asio::posix::stream_descriptor port_;
    boost::asio::steady_timer timer_;
    std::array<char, 512> buffer_{};
    std::string told_;  // the reason last told
    std::chrono::milliseconds retry_;
    std::chrono::steady_clock::time_point busy_since_{};
    bool started_ = false, stopping_ = false;
};

}  // namespace ingle
