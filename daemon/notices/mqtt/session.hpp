// One connection to an MQTT broker, from its beginning to its end. Used by one thread; open() may take as
// long as the system's own limits for a name and a connection.
#pragma once

#include <chrono>
#include <functional>
#include <memory>
#include <string>

#include "daemon/notices/notifier.hpp"
#include "drivers/api/secret.hpp"

namespace ingle::mqtt {

struct Broker {
    std::string host;
    int port = 1883;
    std::string client, user, certificates, certificate, certificate_key;
    SecretPlace password;
    bool tls = false;
    std::string will_topic, will;
    std::string shown() const { return host + ":" + std::to_string(port); }
};

class Session {
public:
    struct Events {
        std::function<void(int message)> arrived;                                        // the broker has it
        std::function<void(std::string const& topic, std::string const& payload)> kept;  // of a subscription
    };
    Session(Broker const& broker, Events events);
    ~Session();
    Session(Session const&) = delete;
    Session& operator=(Session const&) = delete;

    void open();
    bool ready() const;          // the broker let us in
    bool lost() const;           // over, for the reason why()
    Attempt const& why() const;  // never delivered
    // Waits for the broker, or for `wake` to be readable.
    void turn(int wake, std::chrono::milliseconds longest);
    // The number of the message, 0: it did not go. `sure`: the broker confirms it; else it is enough that it
    // left.
    int publish(std::string const& topic, std::string const& payload, bool sure, bool retained);
    std::size_t waiting() const;  // messages that have not left yet
    void subscribe(std::string const& topics);
    void unsubscribe(std::string const& topics);
    void close();  // says farewell, so that the will is not published

private:
    struct Impl;
    std::unique_ptr<Impl> impl_;
};

}  // namespace ingle::mqtt
