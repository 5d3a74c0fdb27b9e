// The thread of a device that blocks: its body may hang for ever without holding up stop() or touching what
// is gone. Owned by a driver; every call but those of Hands comes from the io_context thread.
#pragma once

#include <chrono>
#include <functional>
#include <memory>

#include "drivers/api/asio.hpp"

namespace ingle {

class DeviceThread {
    struct Shared;

public:
    // What the body may use. It owns its own state; the driver it captures as a weak_ptr, used in posted
    // calls only.
    class Hands {
    public:
        bool stopping() const;
        bool wait_until(std::chrono::steady_clock::time_point when) const;  // true: stop was asked for
        // Runs `call` on the io_context thread; does nothing once stop was asked for.
        void post(std::function<void()> call) const;

    private:
        friend DeviceThread;
        explicit Hands(std::shared_ptr<Shared> shared) : shared_(std::move(shared)) {}
        std::shared_ptr<Shared> shared_;
    };

    static constexpr std::chrono::milliseconds patience{100};

    explicit DeviceThread(boost::asio::io_context& io);
    ~DeviceThread();  // stops
    void start(std::function<void(Hands const&)> body);
    // Waits at most `patience` for the body to end; one that hangs is left to itself. Idempotent.
    void stop();

private:
    std::shared_ptr<Shared> shared_;
};

}  // namespace ingle
