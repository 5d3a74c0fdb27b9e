// The server on a real socket with its own loop, and clients that talk to it.
#pragma once

#include <unistd.h>

#include <functional>
#include <future>
#include <string>
#include <thread>

#include "daemon/web/server.hpp"
#include "fake_host.hpp"

namespace ingle::test {

namespace asio = boost::asio;
using Local = asio::local::stream_protocol;

inline std::string fresh_path() {
    static int number = 0;
    return "/tmp/ingle-web-" + std::to_string(getpid()) + "-" + std::to_string(++number) + ".sock";
}

class Running {
public:
    explicit Running(ServerSettings settings) : server_(io_, host, std::move(settings)) {
        server_.start();
        thread_ = std::thread([this] { io_.run(); });
    }
    ~Running() { stop(); }

    // Stops as daemon/run does, and gives how long the loop needed to run dry.
    std::chrono::milliseconds stop() {
        auto const begin = std::chrono::steady_clock::now();
        if (thread_.joinable()) {
            asio::post(io_, [this] { server_.stop(); });
            thread_.join();
        }
        return std::chrono::duration_cast<std::chrono::milliseconds>(std::chrono::steady_clock::now() -
                                                                     begin);
    }
    template <class F>
    auto on_loop(F f) {
        std::promise<decltype(f(server_))> promise;
        asio::post(io_, [&] { promise.set_value(f(server_)); });
        return promise.get_future().get();
    }
    ServerCounts counts() {
        return on_loop([](Server& server) { return server.counts(); });
    }
    bool wait_for(std::function<bool(ServerCounts const&)> const& condition) {
        for (int i = 0; i < 500; ++i) {
            if (condition(counts())) return true;
            std::this_thread::sleep_for(std::chrono::milliseconds(10));
        }
        return false;
    }

    FakeHost host;
    asio::io_context io_;
    Server server_;

private:
    std::thread thread_;
};

inline ServerSettings on(std::string path) {
    ServerSettings settings;
    settings.socket = std::move(path);
    return settings;
}

inline Local::socket connect(asio::io_context& io, std::string const& path) {
    Local::socket socket(io);
    socket.connect(Local::endpoint(path));
    return socket;
}

template <class Socket>
std::string talk(Socket& socket, std::string const& request) {
    boost::system::error_code error;
    asio::write(socket, asio::buffer(request), error);
    if (request.empty()) socket.shutdown(Socket::shutdown_send, error);
    std::string answer;
    asio::read(socket, asio::dynamic_buffer(answer), error);  // until the server closes
    return answer;
}

inline std::string talk(std::string const& path, std::string const& request) {
    asio::io_context io;
    auto socket = connect(io, path);
    return talk(socket, request);
}

inline std::string get(std::string const& path, std::string const& target) {
    return talk(path, "GET " + target + " HTTP/1.1\r\nHost: x\r\nConnection: close\r\n\r\n");
}

inline std::string read_until(Local::socket& socket, std::string const& mark) {
    std::string text;
    boost::system::error_code error;
    asio::read_until(socket, asio::dynamic_buffer(text), mark, error);
    return text;
}

}  // namespace ingle::test
