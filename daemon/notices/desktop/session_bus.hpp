// The notification service of a desktop session, over D-Bus. Used by one thread.
#pragma once

#include <cstdint>
#include <functional>
#include <memory>
#include <string>

#include "daemon/notices/desktop/card.hpp"
#include "daemon/notices/notifier.hpp"

namespace ingle::desktop {

class SessionBus {
public:
    struct Events {
        std::function<void(std::uint32_t id, std::string const& word)> action;
        std::function<void(std::uint32_t id)> closed;
    };
    explicit SessionBus(std::string address);  // "": the session's own
    ~SessionBus();
    SessionBus(SessionBus const&) = delete;
    SessionBus& operator=(SessionBus const&) = delete;

    void listen(Events events);
    // Opens the bus if need be, and asks the desktop what it can do.
    Attempt reach(Abilities& abilities);
    std::string session() const;  // who numbers the notifications, unlike any other; after reach()
    // *id: which one it takes the place of (0: none), and which one it is then.
    Attempt show(Card const& card, std::uint32_t* id);
    void show_without_waiting(Card const& card, std::uint32_t id);
    void withdraw(std::uint32_t id);
    // Gives what has come; afterwards fd() is to be polled for events() until timeout.
    void process();
    bool open() const;
    int fd() const;
    short events() const;
    int timeout_ms(int longest) const;

private:
    struct Impl;
    std::unique_ptr<Impl> impl_;
};

}  // namespace ingle::desktop
