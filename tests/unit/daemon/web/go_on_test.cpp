// Another kitchen answers on the same sockets, as after a reload.
#include <memory>

#include "running_server.hpp"
#include "tests/support/catch.hpp"

using namespace ingle;
using namespace ingle::test;

namespace {

// Another host, made where the first one's is.
void go_on(Running& running, FakeHost& next, ServerSettings settings) {
    running.on_loop([&](Server& server) {
        server.go_on(next, std::move(settings));
        return 0;
    });
}

std::string tcp_answer(int port, std::string const& token) {
    asio::io_context io;
    asio::ip::tcp::socket socket(io);
    boost::system::error_code refused;
    socket.connect({asio::ip::make_address("127.0.0.1"), static_cast<unsigned short>(port)}, refused);
    if (refused) return "refused";
    return talk(socket, "POST /api/commit HTTP/1.1\r\nHost: localhost\r\nAuthorization: Bearer " + token +
                            "\r\nContent-Length: 0\r\nConnection: close\r\n\r\n")
        .substr(0, 12);
}

}  // namespace

TEST_CASE(
    "who waits for an answer has it from the host that was asked; the next question goes to the other") {
    FakeHost next;
    auto const path = fresh_path();
    Running running(on(path));
    running.on_loop([&](Server&) { return running.host.never_answers = true; });
    asio::io_context io;
    auto waiting = connect(io, path), idle = connect(io, path), half = connect(io, path);
    asio::write(waiting, asio::buffer(std::string("GET /api/history HTTP/1.1\r\nHost: x\r\n\r\n")));
    asio::write(half, asio::buffer(std::string("GET /api/history?from=1 HT")));
    for (int i = 0; i < 500 && running.on_loop([&](Server&) { return running.host.waiting.empty(); }); ++i)
        std::this_thread::sleep_for(std::chrono::milliseconds(10));
    go_on(running, next, on(path));
    running.on_loop([&](Server&) {
        for (auto const& reply : std::exchange(running.host.waiting, {})) reply({{}, "of the first"});
        return 0;
    });
    CHECK_THAT(read_until(waiting, "of the first"), INGLE_CONTAINS("HTTP/1.1 503"));
    for (auto* client : {&waiting, &idle})
        CHECK_THAT(talk(*client, "GET /api/history HTTP/1.1\r\nHost: x\r\nConnection: close\r\n\r\n"),
                   INGLE_CONTAINS("HTTP/1.1 200"));
    CHECK_THAT(talk(half, "TP/1.1\r\nHost: x\r\nConnection: close\r\n\r\n"), INGLE_CONTAINS("HTTP/1.1 "));
    CHECK(get(path, "/healthz").starts_with("HTTP/1.1 200"));
    running.stop();
}

TEST_CASE("a listener is told the present of the other kitchen, and what happens there") {
    FakeHost next;
    auto const path = fresh_path();
    Running running(on(path));
    asio::io_context io;
    auto listener = connect(io, path);
    asio::write(listener, asio::buffer(std::string("GET /api/events HTTP/1.1\r\nHost: x\r\n\r\n")));
    read_until(listener, "}\n\n");
    go_on(running, next, on(path));
    CHECK_THAT(read_until(listener, "}\n\n"), INGLE_CONTAINS("event: now"));
    running.on_loop([](Server& server) {
        server.publish({Event{Instant(Span(1000)), "door-opened", {SubjectKind::vessel, 1}, "", {}}});
        return 0;
    });
    CHECK_THAT(read_until(listener, "}\n\n"), INGLE_CONTAINS("door-opened"));
    CHECK(running.counts().listeners == 1);
    running.stop();
}

TEST_CASE("another token or port takes the earlier connections of TCP away, the same ones keep them") {
    FakeHost next, last;
    auto with = [path = fresh_path()](std::optional<ServerSettings::Tcp> tcp) {
        auto settings = on(path);
        settings.tcp = std::move(tcp);
        return settings;
    };
    Running running(with(ServerSettings::Tcp{"127.0.0.1", 0, "sesame"}));
    auto const port_now = [&] { return running.on_loop([](Server& server) { return server.tcp_port(); }); };
    auto const port = port_now();
    asio::io_context io;
    asio::ip::tcp::socket kept(io);
    kept.connect({asio::ip::make_address("127.0.0.1"), static_cast<unsigned short>(port)});
    auto const once = "GET /healthz HTTP/1.1\r\nHost: localhost\r\nAuthorization: Bearer sesame\r\n\r\n";
    auto const status = [&] {
        boost::system::error_code error;
        std::string text;
        asio::write(kept, asio::buffer(std::string(once)), error);
        asio::read_until(kept, asio::dynamic_buffer(text), "}", error);
        return text.substr(0, 12);
    };
    CHECK(status() == "HTTP/1.1 200");
    go_on(running, next, with(ServerSettings::Tcp{"127.0.0.1", 0, "sesame"}));
    CHECK(port_now() == port);
    CHECK(status() == "HTTP/1.1 200");
    CHECK(tcp_answer(port, "sesame") == "HTTP/1.1 200");

    go_on(running, last, with(ServerSettings::Tcp{"127.0.0.1", port, "another"}));
    CHECK(status().empty());
    CHECK(tcp_answer(port, "sesame") == "HTTP/1.1 401");
    CHECK(tcp_answer(port, "another") == "HTTP/1.1 200");
    go_on(running, last, with({}));
    CHECK(tcp_answer(port, "another") == "refused");
    CHECK(port_now() == 0);
    running.stop();
}

TEST_CASE("what cannot be served is said, and the earlier kitchen goes on answering") {
    FakeHost next;
    auto const path = fresh_path();
    Running running(on(path));
    auto wrong = on(path);
    wrong.tcp = ServerSettings::Tcp{"0.0.0.0", 0, ""};
    auto const said = running.on_loop([&](Server& server) -> std::string {
        try {
            server.go_on(next, wrong);
            return "";
        } catch (std::runtime_error const& failure) {
            return failure.what();
        }
    });
    CHECK_THAT(said, INGLE_CONTAINS("a token is required"));
    next.never_answers = true;
    CHECK(get(path, "/api/history").starts_with("HTTP/1.1 200"));
}

TEST_CASE("an export in which the unit changes is visibly not whole") {
    auto const path = fresh_path();
    Running running(on(path));
    CHECK_THAT(get(path, "/api/export"), INGLE_CONTAINS("\r\n0\r\n\r\n"));
    FakeHost next;
    asio::io_context io;
    auto client = connect(io, path);
    running.on_loop([&](Server& server) {
        running.host.after_a_page = [&] {
            next.set_units(TemperatureUnit::celsius);
            server.go_on(next, on(path));
        };
        return 0;
    });
    auto const text = talk(client, "GET /api/export HTTP/1.1\r\nHost: x\r\nConnection: close\r\n\r\n");
    CHECK_THAT(text, INGLE_CONTAINS("time,stock [degF]"));
    CHECK_THAT(text, !INGLE_CONTAINS("\r\n0\r\n\r\n"));
    running.stop();
}
