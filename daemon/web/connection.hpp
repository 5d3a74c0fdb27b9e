// One client connection, on either kind of socket. Kept alive by its own coroutine; io_context thread. Only
// for daemon/web.
#pragma once

#include <chrono>
#include <functional>
#include <memory>
#include <optional>
#include <set>
#include <string>

#include "daemon/web/event_queue.hpp"
#include "daemon/web/routes.hpp"
#include "drivers/api/asio.hpp"

namespace ingle {

class Connection : public std::enable_shared_from_this<Connection> {
public:
    virtual ~Connection() = default;
    virtual void start() = 0;
    virtual void stop() = 0;  // idempotent: closes, waits for nothing
    virtual void offer(std::shared_ptr<std::string const> const& event) = 0;
    virtual bool tcp() const = 0;
    // Since when it has been waiting for a whole request; empty: it is being answered, or listens to events.
    virtual std::optional<std::chrono::steady_clock::time_point> waiting_since() const = 0;
    virtual std::chrono::steady_clock::time_point listening_since() const = 0;  // to events; of a listener
    virtual std::string const& peer() const = 0;  // the address that it comes from; "" = the local socket
};

// What the connections of one server share; outlives none of them (they hold it).
struct ServerState {
    ServerState(boost::asio::io_context& io_context, WebHost& web_host, ServerSettings server_settings)
        : io(io_context), host(&web_host), settings(std::move(server_settings)) {}

    boost::asio::io_context& io;
    WebHost* host;  // another one after Server::go_on
    ServerSettings settings;
    ServerCounts counts;
    bool stopping = false;
    bool off_loopback = false;
    std::set<std::shared_ptr<Connection>> connections;
    std::set<Connection*> listeners;
    int delayed = 0;  // answers to wrong tokens that wait
    std::int64_t wrong_tokens = 0;
    std::chrono::steady_clock::time_point wrong_tokens_told{};

    std::string token() const { return settings.tcp ? settings.tcp->token : std::string(); }
    void log(std::string line) const {
        if (settings.log) settings.log(std::move(line));
    }
};

std::shared_ptr<Connection> make_connection(std::shared_ptr<ServerState> state,
                                            boost::asio::local::stream_protocol::socket socket);
std::shared_ptr<Connection> make_connection(std::shared_ptr<ServerState> state,
                                            boost::asio::ip::tcp::socket socket);

}  // namespace ingle
