// What waits on an MQTT connection. The client library takes memory for as much as a packet announces, up to
// 256 MB, before it asks anybody: nothing is to be read before the length is known and small enough.
#pragma once

#include <cstddef>

namespace ingle {

enum class MqttPacket { none, a_part, whole, too_large, the_end };

MqttPacket mqtt_packet_waiting(int socket, std::size_t largest);

}  // namespace ingle
