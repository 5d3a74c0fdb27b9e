#include "drivers/bus/mqtt_packet.hpp"

#include <sys/ioctl.h>
#include <sys/socket.h>

#include <array>
#include <cerrno>

namespace ingle {

MqttPacket mqtt_packet_waiting(int socket, std::size_t largest) {
    std::array<unsigned char, 5> head{};  // MQTT 3.1.1, 2.2: the type, and up to four bytes of length
    auto const seen = recv(socket, head.data(), head.size(), MSG_PEEK | MSG_DONTWAIT);
    if (seen == 0) return MqttPacket::the_end;
    if (seen < 0) return errno == EAGAIN || errno == EINTR ? MqttPacket::none : MqttPacket::the_end;
    std::size_t length = 0, digits = 0;
    for (std::size_t at = 1; digits == 0; ++at) {
        if (at == head.size()) return MqttPacket::too_large;
        if (at >= static_cast<std::size_t>(seen)) return MqttPacket::a_part;
        length |= static_cast<std::size_t>(head.at(at) & 0x7FU) << 7U * (at - 1);
        if ((head.at(at) & 0x80U) == 0) digits = at;
    }
    if (length > largest) return MqttPacket::too_large;
    int there = 0;
    if (ioctl(socket, FIONREAD, &there) != 0) return MqttPacket::the_end;
    return static_cast<std::size_t>(there) > digits + length ? MqttPacket::whole : MqttPacket::a_part;
}

}  // namespace ingle
