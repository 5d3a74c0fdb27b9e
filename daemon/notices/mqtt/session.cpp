#include "daemon/notices/mqtt/session.hpp"

#include <mosquitto.h>
#include <poll.h>

#include <algorithm>
#include <utility>

#include "drivers/bus/mqtt_packet.hpp"

namespace ingle::mqtt {
namespace {

constexpr int keep_alive_s = 15;  // a dead network, or a dead house, is noticed in half as much again
constexpr std::size_t largest_packet = 100'000;  // that a broker may send
constexpr int reads_of_encrypted = 4;            // a record of TLS may hold several packets
constexpr int pause_ms = 20;                     // while the rest of a packet is on its way
constexpr std::chrono::seconds farewell{1};

constexpr char const* bad_certificate = "certificate verify failed";
constexpr int refused_version = 1, refused_client = 2, server_unavailable = 3;  // MQTT 3.1.1, 3.2.2.3

}  // namespace

struct Session::Impl {
    Broker broker;
    Events events;
    std::unique_ptr<mosquitto, decltype(&mosquitto_destroy)> link{nullptr, mosquitto_destroy};
    bool ready = false, lost = false;
    Attempt why = Attempt::try_again("not connected yet");
    std::string tls_error;
    std::size_t waiting = 0;

    void end(Attempt reason) {
        if (std::exchange(lost, true)) return;
        ready = false;
        why = std::move(reason);
    }
    void end(int code) {
        if (code == MOSQ_ERR_TLS || !tls_error.empty()) {
            bool const certificate = tls_error.find(bad_certificate) != std::string::npos;
            return end(Attempt::try_again(broker.shown() + (certificate ? ": its certificate is not trusted"
                                                                        : ": no encryption came about"),
                                          {},
                                          certificate ? Attempt::Cause::certificate : Attempt::Cause::other));
        }
        end(Attempt::try_again(broker.shown() + ": " +
                               (code == MOSQ_ERR_ERRNO ? "no connection" : mosquitto_strerror(code))));
    }
    void let_in(int code) {
        if (code == 0) {
            ready = true;
            mosquitto_username_pw_set(link.get(), nullptr, nullptr);  // kept no longer than needed
        } else if (code == refused_version || code == refused_client) {
            end(Attempt::give_up(broker.shown() + " refuses this client: " + mosquitto_connack_string(code)));
        } else if (code == server_unavailable) {
            end(Attempt::try_again(broker.shown() + " says that it is not available"));
        } else {
            end(Attempt::give_up(broker.shown() + " refused user or password"));
        }
    }

    static Impl& of(void* self) { return *static_cast<Impl*>(self); }
};

Session::Session(Broker const& broker, Events events)
    : impl_(std::make_unique<Impl>(Impl{broker, std::move(events)})) {}
Session::~Session() = default;

void Session::open() {
    auto& self = *impl_;
    self.link.reset(mosquitto_new(self.broker.client.c_str(), true, &self));
    if (!self.link) return self.end(Attempt::try_again("out of memory"));
    auto* const link = self.link.get();
    mosquitto_connect_callback_set(link,
                                   [](mosquitto*, void* data, int code) { Impl::of(data).let_in(code); });
    mosquitto_publish_callback_set(link, [](mosquitto*, void* data, int message) {
        auto& impl = Impl::of(data);
        if (impl.waiting > 0) --impl.waiting;
        impl.events.arrived(message);
    });
    mosquitto_message_callback_set(link, [](mosquitto*, void* data, mosquitto_message const* message) {
        if (!message->retain || message->payloadlen <= 0) return;
        Impl::of(data).events.kept(message->topic, {static_cast<char const*>(message->payload),
                                                    static_cast<std::size_t>(message->payloadlen)});
    });
    mosquitto_log_callback_set(link, [](mosquitto*, void* data, int level, char const* text) {
        if (level == MOSQ_LOG_ERR && std::string_view(text).find("OpenSSL") != std::string_view::npos)
            Impl::of(data).tls_error += text;
    });
    auto const& broker = self.broker;
    if (!broker.user.empty()) {
        auto const password = read_secret(broker.password);
        if (!password.wrong.empty()) return self.end(Attempt::give_up("the password: " + password.wrong));
        mosquitto_username_pw_set(link, broker.user.c_str(), password.text.c_str());
    }
    if (broker.tls) {
        auto const path = [](std::string const& text) { return text.empty() ? nullptr : text.c_str(); };
        if (broker.certificates.empty()) mosquitto_int_option(link, MOSQ_OPT_TLS_USE_OS_CERTS, 1);
        // The library wants a place of trusted certificates even where it takes the system's.
        int const set = mosquitto_tls_set(link, path(broker.certificates),
                                          broker.certificates.empty() ? "/etc/ssl/certs" : nullptr,
                                          path(broker.certificate), path(broker.certificate_key), nullptr);
        if (set != MOSQ_ERR_SUCCESS)
            return self.end(
                Attempt::give_up("the certificates cannot be used: " + std::string(mosquitto_strerror(set))));
    }
    mosquitto_will_set(link, broker.will_topic.c_str(), static_cast<int>(broker.will.size()),
                       broker.will.data(), 1, true);
    int const result = mosquitto_connect(link, broker.host.c_str(), broker.port, keep_alive_s);
    if (result == MOSQ_ERR_EAI)
        self.end(Attempt::try_again("the name " + broker.host + " is not known here"));
    else if (result != MOSQ_ERR_SUCCESS)
        self.end(result);
}

bool Session::ready() const {
    return impl_->ready;
}
bool Session::lost() const {
    return impl_->lost;
}
Attempt const& Session::why() const {
    return impl_->why;
}

void Session::turn(int wake, std::chrono::milliseconds longest) {
    auto& self = *impl_;
    auto* const link = self.link.get();
    int const socket = mosquitto_socket(link);
    if (socket < 0) return self.end(MOSQ_ERR_CONN_LOST);
    pollfd places[] = {{socket, static_cast<short>(POLLIN | (mosquitto_want_write(link) ? POLLOUT : 0)), 0},
                       {wake, POLLIN, 0}};
    ::poll(places, wake < 0 ? 1 : 2, static_cast<int>(longest.count()));
    int result = MOSQ_ERR_SUCCESS;
    if (places[0].revents & POLLOUT) result = mosquitto_loop_write(link, 1);
    if (result == MOSQ_ERR_SUCCESS && places[0].revents & (POLLIN | POLLHUP | POLLERR)) {
        if (self.broker.tls) {
            for (int i = 0; i < reads_of_encrypted && result == MOSQ_ERR_SUCCESS; ++i)
                result = mosquitto_loop_read(link, 1);
        } else {
            auto const packet = mqtt_packet_waiting(socket, largest_packet);
            if (packet == MqttPacket::too_large)
                result = MOSQ_ERR_OVERSIZE_PACKET;
            else if (packet == MqttPacket::whole || packet == MqttPacket::the_end)
                result = mosquitto_loop_read(link, 1);
            else
                ::poll(nullptr, 0, pause_ms);
            if (packet == MqttPacket::the_end && result == MOSQ_ERR_SUCCESS) result = MOSQ_ERR_CONN_LOST;
        }
    }
    if (result == MOSQ_ERR_SUCCESS) result = mosquitto_loop_misc(link);
    if (result != MOSQ_ERR_SUCCESS) self.end(result);
}

int Session::publish(std::string const& topic, std::string const& payload, bool sure, bool retained) {
    auto& self = *impl_;
    int number = 0;
    if (!self.ready ||
        mosquitto_publish(self.link.get(), &number, topic.c_str(), static_cast<int>(payload.size()),
                          payload.data(), sure ? 1 : 0, retained) != MOSQ_ERR_SUCCESS)
        return 0;
    ++self.waiting;
    return number;
}

std::size_t Session::waiting() const {
    return impl_->waiting;
}
void Session::subscribe(std::string const& topics) {
    mosquitto_subscribe(impl_->link.get(), nullptr, topics.c_str(), 0);
}
void Session::unsubscribe(std::string const& topics) {
    mosquitto_unsubscribe(impl_->link.get(), nullptr, topics.c_str());
}

void Session::close() {
    auto& self = *impl_;
    if (!self.link || self.lost) return;
    auto const until = std::chrono::steady_clock::now() + farewell;
    while (self.ready && !self.lost && self.waiting > 0 && std::chrono::steady_clock::now() < until)
        turn(-1, std::chrono::milliseconds(pause_ms));
    if (self.lost) return;
    mosquitto_disconnect(self.link.get());
    mosquitto_loop_write(self.link.get(), 1);
    self.end(Attempt::try_again("the connection is closed"));
}

}  // namespace ingle::mqtt
