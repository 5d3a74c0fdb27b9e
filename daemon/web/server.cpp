#include "daemon/web/server.hpp"

#include <sys/resource.h>
#include <sys/stat.h>
#include <unistd.h>

#include <algorithm>
#include <stdexcept>
#include <type_traits>
#include <utility>
#include <vector>

#include "daemon/web/connection.hpp"
#include "daemon/web/guard.hpp"
#include "daemon/web/json.hpp"

namespace ingle {
namespace {

namespace asio = boost::asio;
using boost::system::error_code;
using Local = asio::local::stream_protocol;
using Tcp = asio::ip::tcp;

constexpr std::ptrdiff_t most_connections = 64;
constexpr std::ptrdiff_t least_connections = 4;
// Left to the logbook, the probes, the mail and what else the daemon opens: clients cannot take its last
// descriptor.
constexpr std::ptrdiff_t kept_descriptors = 40;
constexpr auto between_tries = std::chrono::seconds(5);  // of a port that cannot be had
constexpr auto breath = std::chrono::milliseconds(200);  // after a failed accept (no descriptors left)

// Places on each of the two sockets: whoever fills one does not lock out the other, and so not `ingle ack`.
std::ptrdiff_t places_per_socket() {
    rlimit files{};
    if (getrlimit(RLIMIT_NOFILE, &files) != 0 || files.rlim_cur > 1024) return most_connections;
    auto const free = (static_cast<std::ptrdiff_t>(files.rlim_cur) - kept_descriptors) / 2;
    return std::clamp(free, least_connections, most_connections);
}

// The one that has been waiting longest for a request gives its place to a new one.
bool make_room(ServerState const& state, bool tcp) {
    auto const same = [&](auto const& connection) { return connection->tcp() == tcp; };
    if (std::ranges::count_if(state.connections, same) < places_per_socket()) return true;
    std::shared_ptr<Connection> longest;
    for (auto const& connection : state.connections) {
        if (!same(connection) || !connection->waiting_since()) continue;
        if (!longest || *connection->waiting_since() < *longest->waiting_since()) longest = connection;
    }
    if (longest) longest->stop();
    return longest != nullptr;
}

template <class Acceptor>
asio::awaitable<void> accept_clients(std::shared_ptr<ServerState> state, std::shared_ptr<Acceptor> acceptor) {
    asio::steady_timer pause(state->io);
    while (!state->stopping && acceptor->is_open()) {
        error_code error;
        auto socket = co_await acceptor->async_accept(asio::redirect_error(asio::use_awaitable, error));
        if (state->stopping || !acceptor->is_open()) co_return;
        if (error) {
            pause.expires_after(breath);
            co_await pause.async_wait(asio::redirect_error(asio::use_awaitable, error));
            continue;
        }
        if (!make_room(*state, std::is_same_v<Acceptor, Tcp::acceptor>)) continue;  // closes it
        make_connection(state, std::move(socket))->start();
    }
}

// 0 and 0: there is no such file.
std::pair<dev_t, ino_t> identity_of(std::string const& path) {
    struct stat found {};
    if (lstat(path.c_str(), &found) != 0) return {};
    return {found.st_dev, found.st_ino};
}

// A socket file that nobody answers is left over from a crash and goes; one that answers is another daemon's.
void clear_the_way(asio::io_context& io, std::string const& path) {
    struct stat found {};
    if (lstat(path.c_str(), &found) != 0) return;
    if (!S_ISSOCK(found.st_mode)) {
        throw std::runtime_error("cannot listen on " + path +
                                 ": there is a file of that name that is no socket");
    }
    Local::socket trial(io);
    error_code error;
    trial.connect(Local::endpoint(path), error);
    if (!error) throw std::runtime_error("another ingled already answers on " + path);
    unlink(path.c_str());
}

}  // namespace

struct Server::Impl : std::enable_shared_from_this<Server::Impl> {
    Impl(asio::io_context& io, WebHost& host, ServerSettings settings)
        : state(std::make_shared<ServerState>(io, host, std::move(settings))), again(io) {}

    void listen_local() {
        auto const& path = state->settings.socket;
        if (path.size() >= sizeof(sockaddr_un::sun_path)) {
            throw std::runtime_error(
                "cannot listen on " + path + ": the path is longer than a socket's may be (" +
                std::to_string(sizeof(sockaddr_un::sun_path) - 1) + " bytes); use a shorter --state folder");
        }
        clear_the_way(state->io, path);
        local = std::make_shared<Local::acceptor>(state->io);
        error_code error;
        local->open(Local(), error);
        // The group may talk to the daemon, others may not; there is no moment in between.
        auto const old_mask = umask(0117);
        if (!error) local->bind(Local::endpoint(path), error);
        umask(old_mask);
        if (!error) bound = true;
        if (!error) local->listen(asio::socket_base::max_listen_connections, error);
        if (error) throw std::runtime_error("cannot listen on " + path + ": " + error.message());
        own_socket = identity_of(path);
        spawn(local);
    }

    void listen_tcp() {
        auto const& wish = *state->settings.tcp;
        auto const address = address_of(wish);
        state->off_loopback = !address.is_loopback();
        open_tcp({address, static_cast<unsigned short>(wish.port)}, place_of(wish));
    }

    // Somebody cleaned up in the state folder, or its disk is another one: the command line finds its way
    // again.
    void look_after_socket() {
        auto const& path = state->settings.socket;
        if (!bound || path.empty() || identity_of(path) == own_socket) return;
        auto const before = std::exchange(local, nullptr);
        try {
            listen_local();
            error_code ignored;
            if (before) before->close(ignored);
        } catch (std::runtime_error const&) {  // its folder is gone, or it is somebody else's
            local = before;
        }
    }

    static std::string place_of(ServerSettings::Tcp const& wish) {
        return wish.address + ":" + std::to_string(wish.port);
    }
    static asio::ip::address address_of(ServerSettings::Tcp const& wish) {
        error_code error;
        auto address =
            asio::ip::make_address(wish.address == "localhost" ? "127.0.0.1" : wish.address, error);
        auto const where = "cannot serve on " + place_of(wish);
        if (error) throw std::runtime_error(where + ": that is no address of a machine");
        if (!address.is_loopback() && wish.token.empty())
            throw std::runtime_error(
                where + ": beyond this machine a token is required; set token-file under [serve]");
        return address;
    }

    void go_on(WebHost& host, ServerSettings settings) {
        if (settings.tcp) address_of(*settings.tcp);
        bool const other_tcp = settings.tcp != state->settings.tcp;
        if (!bound && !settings.socket.empty()) {
            state->settings.socket = settings.socket;
            listen_local();
        }
        if (bound) settings.socket = state->settings.socket;
        state->host = &host;
        state->settings = std::move(settings);
        if (other_tcp) {
            close_tcp();
            if (state->settings.tcp) listen_tcp();
        }
        auto const present = std::make_shared<std::string const>(
            now_event(host.view(), host.status(), host.settings(), host.pending_notices(), host.zone()));
        for (auto* listener : std::vector(state->listeners.begin(), state->listeners.end()))
            listener->offer(present);
    }

    void close_tcp() {
        error_code ignored;
        again.cancel();
        unserved.clear();
        port = 0;
        if (tcp) tcp->close(ignored);
        tcp.reset();
        for (auto const& connection : std::vector(state->connections.begin(), state->connections.end()))
            if (connection->tcp()) connection->stop();
    }

    // The kitchen is watched whether or not the page can be served: a port that another program has, or an
    // address that this machine has not got yet, is asked for again.
    void open_tcp(Tcp::endpoint const& endpoint, std::string const& where) {
        error_code error;
        tcp = std::make_shared<Tcp::acceptor>(state->io);
        tcp->open(endpoint.protocol(), error);
        if (!error) tcp->set_option(Tcp::acceptor::reuse_address(true), error);
        if (!error) tcp->bind(endpoint, error);
        if (!error) tcp->listen(asio::socket_base::max_listen_connections, error);
        if (!error) {
            if (!unserved.empty()) state->log("web: served on " + where + " now");
            unserved.clear();
            port = tcp->local_endpoint().port();
            spawn(tcp);
            return;
        }
        if (unserved != error.message())
            state->log("web: the page is not served on " + where + ": " + error.message() +
                       "; the kitchen is watched without it, and it is tried again every 5 s");
        unserved = error.message();
        again.expires_after(between_tries);
        again.async_wait(
            [this, self = weak_from_this(), endpoint, where, wanted = tcp](error_code cancelled) {
                auto const alive = self.lock();
                if (!cancelled && alive && tcp == wanted && !state->stopping) open_tcp(endpoint, where);
            });
    }

    template <class Acceptor>
    void spawn(std::shared_ptr<Acceptor> acceptor) {
        asio::co_spawn(
            state->io, [s = state, acceptor] { return accept_clients(s, acceptor); },
            [s = state](std::exception_ptr failure) {
                if (!failure) return;
                ++s->counts.failures;
                s->log("web: no new connections are accepted any more after an internal failure");
            });
    }

    void stop() {
        if (state->stopping) return;
        state->stopping = true;
        error_code ignored;
        again.cancel();
        if (local) local->close(ignored);
        if (tcp) tcp->close(ignored);
        if (bound) unlink(state->settings.socket.c_str());
        for (auto const& connection : std::vector(state->connections.begin(), state->connections.end())) {
            connection->stop();
        }
    }

    std::shared_ptr<ServerState> state;
    std::shared_ptr<Local::acceptor> local;
    std::pair<dev_t, ino_t> own_socket{};  // of the file that `local` listens at
    std::shared_ptr<Tcp::acceptor> tcp;
    asio::steady_timer again;
    std::string unserved;  // why the page is not served now; "" = it is
    bool bound = false;
    int port = 0;
};

Server::Server(asio::io_context& io, WebHost& host, ServerSettings settings)
    : impl_(std::make_shared<Impl>(io, host, std::move(settings))) {}

Server::~Server() {
    impl_->stop();
}

void Server::start() {
    try {
        if (!impl_->state->settings.socket.empty()) impl_->listen_local();
        if (impl_->state->settings.tcp) impl_->listen_tcp();
    } catch (...) {
        stop();
        throw;
    }
}

void Server::go_on(WebHost& host, ServerSettings settings) {
    impl_->go_on(host, std::move(settings));
}

void Server::look_after_socket() {
    impl_->look_after_socket();
}

void Server::stop() {
    impl_->stop();
}

void Server::publish(Effects const& effects) {
    auto& state = *impl_->state;
    if (state.listeners.empty()) return;
    auto const offset_ms = state.host->view().wall_offset_ms;
    for (auto const& effect : effects) {
        auto text = event_text(effect, state.host->settings(), offset_ms, state.host->zone());
        if (text.empty()) continue;
        auto const shared = std::make_shared<std::string const>(std::move(text));
        for (auto* listener : std::vector(state.listeners.begin(), state.listeners.end()))
            listener->offer(shared);
    }
}

ServerCounts const& Server::counts() const {
    return impl_->state->counts;
}

int Server::tcp_port() const {
    return impl_->port;
}

}  // namespace ingle
