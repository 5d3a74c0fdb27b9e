// One connection to an MQTT broker: subscribes, reconnects with back-off, gives messages as they come. Lives
// on a device thread; `hands` carries everything to the io_context thread.
#pragma once

#include <functional>
#include <string>
#include <vector>

#include "drivers/api/secret.hpp"
#include "drivers/bus/device_thread.hpp"

namespace ingle {

struct BrokerPlace {
    std::string host;
    int port = 1883;
    std::string user;
    SecretPlace password;
    std::vector<std::string> topics;
};

struct BrokerEvents {  // called on the device thread
    std::function<void(std::string topic, std::string payload, bool retained)> message;
    std::function<void(std::string why)> lost;  // empty: connected
};

// Runs until stop is asked for.
void listen_to_broker(DeviceThread::Hands const& hands, BrokerPlace const& place, BrokerEvents const& events);

}  // namespace ingle
