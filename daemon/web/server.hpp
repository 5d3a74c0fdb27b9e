// The only HTTP server: API, live events and metrics, on a Unix socket and, if told, on TCP. Owned by
// daemon/run; io_context thread.
#pragma once

#include <cstdint>
#include <functional>
#include <memory>
#include <optional>
#include <string>

#include "daemon/web/host.hpp"
#include "drivers/api/asio.hpp"

namespace ingle {

// 1 (2026-11): first.
inline constexpr int api_version = 1;

struct ServerSettings {
    struct Tcp {
        std::string address = "127.0.0.1";
        int port = 8094;    // 0: any free one, see Server::tcp_port
        std::string token;  // "" = read-only; needed off loopback

        bool operator==(Tcp const&) const = default;
    };
    std::string socket;  // path; "" = none. Whoever may open it may do everything.
    std::optional<Tcp> tcp;
    std::function<void(std::string)> log;  // a line for the log; may be empty
    Span reply_limit{20'000};              // for the logbook's answers; then the client is told (504)
};

struct ServerCounts {
    std::int64_t requests = 0, refused = 0;  // refused: answered with 4xx
    std::int64_t connections = 0;            // open now
    std::int64_t listeners = 0;              // of /api/events, now
    std::int64_t dropped_listeners = 0;      // because they did not read
    std::int64_t failures = 0;               // exceptions caught; 0 unless there is a bug
};

class Server {
public:
    Server(boost::asio::io_context& io, WebHost& host, ServerSettings settings);
    ~Server();

    // Throws std::runtime_error with a sentence: a path that cannot be had, a daemon that already listens
    // there, what is no address, no token off loopback. A port that cannot be had now is asked for again and
    // again.
    void start();
    // Another kitchen answers from now on, as `settings` have it: nobody who asks meanwhile loses the
    // connection, and who was asking has the answer of the host that was asked (which must live until it gave
    // it). Where the address, the port or the token of TCP changed, those connections end. Throws as start(),
    // and then goes on as before.
    void go_on(WebHost& host, ServerSettings settings);
    void look_after_socket();  // it is made anew where its file was deleted
    void stop();               // idempotent; closes everything, waits for nothing

    void publish(Effects const& effects);  // to the listeners of /api/events
    ServerCounts const& counts() const;
    int tcp_port() const;  // 0: not listening on TCP

private:
    struct Impl;
    std::shared_ptr<Impl> impl_;
};

}  // namespace ingle
