#include "drivers/mqtt/link.hpp"

#include <mosquitto.h>
#include <poll.h>

#include <algorithm>
#include <map>
#include <memory>

#include "drivers/bus/mqtt_packet.hpp"

namespace ingle {
namespace {

constexpr int keep_alive_s = 15;  // a dead network is noticed in half as much again
constexpr int slice_ms = 50;      // how soon stop is noticed
constexpr std::size_t largest_payload = 4096;
constexpr std::size_t largest_packet = largest_payload + 70'000;  // a topic has at most 65535 bytes
constexpr std::chrono::milliseconds first_retry{500}, longest_retry{10'000};
constexpr std::chrono::seconds longest_greeting{10};  // from the connection to the last topic's confirmation

struct Session {
    BrokerPlace const* place;
    BrokerEvents const* events;
    bool heard = false;                     // the broker answered for every topic
    std::map<int, std::string> asked = {};  // topics that it has not answered for, by the message's number
    std::string refused = {};
};

void connected(mosquitto* link, void* data, int code) {
    auto& session = *static_cast<Session*>(data);
    if (code != 0) {
        session.events->lost(mosquitto_connack_string(code));
        return;
    }
    session.asked.clear();
    session.refused.clear();
    for (auto const& topic : session.place->topics) {
        int number = 0;
        if (mosquitto_subscribe(link, &number, topic.c_str(), 0) == MOSQ_ERR_SUCCESS)
            session.asked[number] = topic;
    }
}

// A message that comes before the broker has confirmed a topic is lost: connected is what hears every topic.
void subscribed(mosquitto*, void* data, int number, int count, int const* granted) {
    auto& session = *static_cast<Session*>(data);
    auto const topic = session.asked.find(number);
    if (topic == session.asked.end()) return;
    if (count != 1 || granted[0] < 0 || granted[0] > 2)
        session.refused = "it does not let this user read \"" + topic->second + "\"";
    session.asked.erase(topic);
    if (!session.asked.empty()) return;
    session.heard = true;
    session.events->lost(session.refused);
}

void received(mosquitto*, void* data, mosquitto_message const* message) {
    if (message->payloadlen < 0 || static_cast<std::size_t>(message->payloadlen) > largest_payload) return;
    std::string payload(static_cast<char const*>(message->payload ? message->payload : ""),
                        message->payload ? static_cast<std::size_t>(message->payloadlen) : 0);
    static_cast<Session*>(data)->events->message(message->topic, std::move(payload), message->retain);
}

// One turn: whole packets only, one at a time.
int turn(mosquitto* link) {
    int const socket = mosquitto_socket(link);
    if (socket < 0) return MOSQ_ERR_NO_CONN;
    pollfd place{socket, static_cast<short>(POLLIN | (mosquitto_want_write(link) ? POLLOUT : 0)), 0};
    poll(&place, 1, slice_ms);
    if (place.revents & POLLOUT)
        if (int const result = mosquitto_loop_write(link, 1); result != MOSQ_ERR_SUCCESS) return result;
    if (place.revents & (POLLIN | POLLHUP | POLLERR)) {
        auto const waiting = mqtt_packet_waiting(socket, largest_packet);
        if (waiting == MqttPacket::too_large) return MOSQ_ERR_OVERSIZE_PACKET;
        if (waiting == MqttPacket::whole || waiting == MqttPacket::the_end) {
            if (int const result = mosquitto_loop_read(link, 1); result != MOSQ_ERR_SUCCESS) return result;
            if (waiting == MqttPacket::the_end) return MOSQ_ERR_CONN_LOST;
        } else {
            poll(nullptr, 0, slice_ms);  // the rest is on its way
        }
    }
    return mosquitto_loop_misc(link);
}

}  // namespace

void listen_to_broker(DeviceThread::Hands const& hands, BrokerPlace const& place,
                      BrokerEvents const& events) {
    Session session{&place, &events};
    std::unique_ptr<mosquitto, decltype(&mosquitto_destroy)> const link(
        mosquitto_new(nullptr, true, &session), mosquitto_destroy);
    if (!link) return events.lost("out of memory");
    mosquitto_connect_callback_set(link.get(), connected);
    mosquitto_subscribe_callback_set(link.get(), subscribed);
    mosquitto_message_callback_set(link.get(), received);
    auto retry = first_retry;
    while (!hands.stopping()) {
        if (!place.user.empty()) {
            auto const password = read_secret(place.password);
            if (!password.wrong.empty()) events.lost("the password: " + password.wrong);
            mosquitto_username_pw_set(link.get(), place.user.c_str(),
                                      password.text.empty() ? nullptr : password.text.c_str());
        }
        session.heard = false;
        int result = mosquitto_connect(link.get(), place.host.c_str(), place.port, keep_alive_s);
        auto const since = std::chrono::steady_clock::now();
        auto const keeps_silent = [&] {
            return !session.heard && std::chrono::steady_clock::now() - since > longest_greeting;
        };
        while (result == MOSQ_ERR_SUCCESS && !hands.stopping() && !keeps_silent()) result = turn(link.get());
        if (hands.stopping()) break;
        if (result == MOSQ_ERR_SUCCESS) mosquitto_disconnect(link.get());
        events.lost(result == MOSQ_ERR_SUCCESS ? std::string("it answers no subscription")
                    : result == MOSQ_ERR_ERRNO ? std::string("no connection")
                                               : mosquitto_strerror(result));
        auto const now = std::chrono::steady_clock::now();
        retry = now - since > longest_retry ? first_retry : std::min(retry * 2, longest_retry);
        if (hands.wait_until(now + retry)) break;
    }
    mosquitto_disconnect(link.get());
}

}  // namespace ingle
