// What a service manager (systemd) is told through NOTIFY_SOCKET: ready, alive, reloading, stopping. Does
// nothing where there is none. io thread.
#pragma once

#include <optional>
#include <string>

#include "drivers/reading/clock.hpp"

namespace ingle {

class ServiceManager {
public:
    ServiceManager();  // reads NOTIFY_SOCKET and WATCHDOG_USEC, then removes them so that no child inherits
                       // them

    void ready(std::string const& status);
    void alive();  // a watchdog ping
    void stopping();
    void reloading();  // until the next ready()
    // How often `alive` is due: half the manager's limit. Empty: no watchdog.
    std::optional<Span> ping_every() const { return ping_every_; }

private:
    void send(std::string const& text) const;

    std::string socket_;
    std::optional<Span> ping_every_;
};

}  // namespace ingle
