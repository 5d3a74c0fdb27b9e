// The server on real sockets: what comes over the wire, who is dropped, and how it stops.
#include <sys/stat.h>

#include <filesystem>
#include <fstream>

#include "running_server.hpp"
#include "tests/support/catch.hpp"

#ifdef __SANITIZE_ADDRESS__
#define FREED_MEMORY_IS_KEPT
#elif defined(__has_feature)
#if __has_feature(address_sanitizer)
#define FREED_MEMORY_IS_KEPT
#endif
#endif

using namespace ingle;
using namespace ingle::test;

namespace {

// A sanitizer keeps what is freed for a while; then only the counts can be checked.
#if defined(FREED_MEMORY_IS_KEPT) || defined(__SANITIZE_THREAD__)
constexpr long most_growth_kib = 1L << 30;
#else
constexpr long most_growth_kib = 8 * 1024;
#endif

long resident_kib() {
    std::ifstream statm("/proc/self/statm");
    long size = 0, resident = 0;
    statm >> size >> resident;
    return resident * (sysconf(_SC_PAGESIZE) / 1024);
}

}  // namespace

TEST_CASE("requests over the Unix socket, malformed ones included") {
    auto const path = fresh_path();
    Running running(on(path));
    CHECK(get(path, "/api/now").starts_with("HTTP/1.1 200 OK\r\n"));
    auto const begin_of = [&](std::string const& request) { return talk(path, request).substr(0, 12); };
    CHECK(begin_of("rubbish\r\n\r\n") == "HTTP/1.1 400");
    CHECK_THAT(talk(path, "rubbish\r\n\r\n"), INGLE_CONTAINS("that is not an HTTP request"));
    CHECK(begin_of("GET / HTTP/9.9\r\n\r\n") == "HTTP/1.1 400");
    CHECK(begin_of("GET /api/now HTTP/1.1\r\nX: " + std::string(10'000, 'x') + "\r\n\r\n") == "HTTP/1.1 431");
    CHECK(begin_of("POST /api/commit HTTP/1.1\r\nContent-Length: 70000\r\n\r\n") == "HTTP/1.1 413");
    CHECK(begin_of("POST /api/commit HTTP/1.1\r\nContent-Length: -1\r\n\r\n") == "HTTP/1.1 400");
    CHECK(begin_of("BREW /api/now HTTP/1.1\r\nConnection: close\r\n\r\n") == "HTTP/1.1 405");
    CHECK(begin_of("GET /nothing HTTP/1.1\r\nConnection: close\r\n\r\n") == "HTTP/1.1 404");
    CHECK(talk(path, "") == "");
    // Two requests on one connection; HEAD has the length of GET and no body.
    auto const two =
        talk(path, "HEAD /healthz HTTP/1.1\r\n\r\nGET /healthz HTTP/1.1\r\nConnection: close\r\n\r\n");
    CHECK(two.find("HTTP/1.1 200 OK", 10) != std::string::npos);
    CHECK(two.find("{") == two.rfind("\r\n\r\n") + 4);
    CHECK(running.counts().failures == 0);
    CHECK(running.counts().refused == 8);
    struct stat found {};
    REQUIRE(stat(path.c_str(), &found) == 0);
    CHECK((found.st_mode & 0777) == 0660);
    running.stop();
    CHECK(stat(path.c_str(), &found) != 0);
}

TEST_CASE("a command reaches the host, in pieces of every size") {
    auto const path = fresh_path();
    Running running(on(path));
    std::string const body = R"({"vessel": "stockpot", "low": "180 degF", "high": "190 degF"})";
    std::string const request =
        "POST /api/commands/hold HTTP/1.1\r\nContent-Type: application/json\r\nConnection: close\r\n"
        "Content-Length: " +
        std::to_string(body.size()) + "\r\n\r\n" + body;
    std::size_t const sizes[] = {1, 7, 40, 69};
    for (auto const size : sizes) {
        asio::io_context io;
        auto socket = connect(io, path);
        for (std::size_t i = 0; i < request.size(); i += size) {
            asio::write(socket, asio::buffer(request.substr(i, size)));
        }
        std::string answer;
        boost::system::error_code error;
        asio::read(socket, asio::dynamic_buffer(answer), error);
        CHECK_THAT(answer, INGLE_CONTAINS("\"done\":true"));
    }
    CHECK(running.on_loop([&](Server&) { return running.host.commands.size(); }) == 4);
}

TEST_CASE("an export comes whole, or visibly not whole") {
    auto const path = fresh_path();
    Running running(on(path));
    auto const whole = get(path, "/api/export?last=1%20h&time=elapsed");
    CHECK_THAT(whole, INGLE_CONTAINS("Transfer-Encoding: chunked"));
    CHECK_THAT(whole, INGLE_CONTAINS("time,stock [degF]"));
    CHECK(std::ranges::count(whole, '3') >= 1000);
    CHECK(whole.ends_with("\r\n0\r\n\r\n"));
    CHECK(running.on_loop([&](Server&) { return running.host.asked_export.elapsed; }));
    running.on_loop([&](Server&) { return running.host.fails_at_page = 2; });
    auto const broken = get(path, "/api/export?last=1%20h");
    CHECK(broken.starts_with("HTTP/1.1 200"));
    CHECK_FALSE(broken.ends_with("\r\n0\r\n\r\n"));
    running.on_loop([&](Server&) { return running.host.fails_at_page = 0; });
    CHECK(get(path, "/api/export").starts_with("HTTP/1.1 503"));
}

TEST_CASE("events: first the present, then what happens; a lost client is forgotten") {
    auto const path = fresh_path();
    Running running(on(path));
    asio::io_context io;
    auto socket = connect(io, path);
    asio::write(socket, asio::buffer(std::string("GET /api/events HTTP/1.1\r\nHost: x\r\n\r\n")));
    auto text = read_until(socket, "}\n\n");
    CHECK_THAT(text, INGLE_CONTAINS("Content-Type: text/event-stream"));
    CHECK_THAT(text, INGLE_CONTAINS("event: now\ndata: {\"api_version\":1"));
    CHECK(running.counts().listeners == 1);
    running.on_loop([](Server& server) {
        Event event{Instant(Span(1000)), "door-opened", {SubjectKind::vessel, 1}, "the door was opened", {}};
        server.publish({event, MemoryChanged{}});
        return 0;
    });
    text = read_until(socket, "}\n\n");
    CHECK_THAT(text, INGLE_CONTAINS("event: event\ndata: {\"event\":\"door-opened\",\"subject\":\"smoker\""));
    socket.close();
    for (int i = 0; i < 3; ++i) {
        running.on_loop([](Server& server) {
            server.publish({Event{Instant(Span(2000)), "note", {}, "anything", {}}});
            return 0;
        });
        std::this_thread::sleep_for(std::chrono::milliseconds(5));
    }
    CHECK(running.wait_for(
        [](ServerCounts const& counts) { return counts.listeners == 0 && counts.connections == 0; }));
    CHECK(running.counts().dropped_listeners == 0);
}

TEST_CASE("a listener that never reads is dropped and counted, and costs no memory") {
    auto const path = fresh_path();
    Running running(on(path));
    asio::io_context io;
    auto reader = connect(io, path), sleeper = connect(io, path);
    for (auto* socket : {&reader, &sleeper}) {
        asio::write(*socket, asio::buffer(std::string("GET /api/events HTTP/1.1\r\nHost: x\r\n\r\n")));
    }
    read_until(reader, "}\n\n");
    REQUIRE(running.wait_for([](ServerCounts const& counts) { return counts.listeners == 2; }));
    std::atomic<bool> done = false;
    std::thread reading([&] {
        char buffer[65536];
        boost::system::error_code error;
        while (!done && !error) reader.read_some(asio::buffer(buffer), error);
    });
    auto const before = resident_kib();
    for (int i = 0; i < 2000; ++i) {  // 20 MB of events
        running.on_loop([](Server& server) {
            server.publish({Event{Instant(Span(1000)), "note", {}, std::string(10'000, 'x'), {}}});
            return 0;
        });
    }
    auto const counts = running.counts();
    CHECK(counts.dropped_listeners >= 1);
    CHECK(counts.listeners <= 1);
    CHECK(resident_kib() - before < most_growth_kib);
    CHECK(counts.failures == 0);
    done = true;
    running.stop();
    reading.join();
}

TEST_CASE("a client that asks and never reads costs no memory either") {
    auto const path = fresh_path();
    Running running(on(path));
    asio::io_context io;
    auto socket = connect(io, path);
    socket.non_blocking(true);
    auto const before = resident_kib();
    std::string requests;
    for (int i = 0; i < 1000; ++i) requests += "GET /api/now HTTP/1.1\r\nHost: x\r\n\r\n";
    boost::system::error_code error;
    for (int i = 0; i < 200; ++i) {
        socket.write_some(asio::buffer(requests), error);
        std::this_thread::sleep_for(std::chrono::milliseconds(1));
    }
    CHECK(error == asio::error::would_block);
    CHECK(running.counts().requests < 1000);
    CHECK(resident_kib() - before < most_growth_kib);
}

TEST_CASE("TCP: the guard is wired to the headers") {
    ServerSettings settings;
    settings.tcp = ServerSettings::Tcp{"127.0.0.1", 0, "sesame"};
    Running running(settings);
    auto const port = running.on_loop([](Server& server) { return server.tcp_port(); });
    auto const ask = [&](std::string const& head, std::string const& body = "") {
        asio::io_context io;
        asio::ip::tcp::socket socket(io);
        socket.connect({asio::ip::make_address("127.0.0.1"), static_cast<unsigned short>(port)});
        return talk(socket, head + "Connection: close\r\nContent-Type: application/json\r\nContent-Length: " +
                                std::to_string(body.size()) + "\r\n\r\n" + body)
            .substr(0, 12);
    };
    CHECK(ask("GET /api/now HTTP/1.1\r\nHost: localhost\r\n") == "HTTP/1.1 200");
    CHECK(ask("GET /api/now HTTP/1.1\r\nHost: evil.example\r\n") == "HTTP/1.1 403");
    CHECK(ask("GET /api/now HTTP/1.1\r\nHost: localhost\r\nOrigin: http://evil.example\r\n") ==
          "HTTP/1.1 403");
    CHECK(ask("POST /api/commands/begin HTTP/1.1\r\nHost: localhost\r\n", R"({"dish": "goose-roll"})") ==
          "HTTP/1.1 401");
    CHECK(ask("POST /api/commands/begin HTTP/1.1\r\nHost: localhost\r\nAuthorization: Bearer sesame\r\n",
              R"({"dish": "goose-roll"})") == "HTTP/1.1 200");
    CHECK(running.on_loop([&](Server&) { return running.host.commands.size(); }) == 1);
}

TEST_CASE("an old cookie makes nothing late that anybody may read, and is no guess of the token") {
    ServerSettings settings;
    settings.tcp = ServerSettings::Tcp{"127.0.0.1", 0, "sesame"};
    Running running(settings);
    auto const port = running.on_loop([](Server& server) { return server.tcp_port(); });
    auto const took = [&](std::string const& line) {
        asio::io_context io;
        asio::ip::tcp::socket socket(io);
        socket.connect({asio::ip::make_address("127.0.0.1"), static_cast<unsigned short>(port)});
        auto const begin = std::chrono::steady_clock::now();
        talk(socket, line +
                         " HTTP/1.1\r\nHost: localhost\r\nCookie: ingle-token=of-last-year\r\nConnection: "
                         "close\r\n\r\n");
        return std::chrono::steady_clock::now() - begin;
    };
    auto least = took("GET /api/now");
    for (int i = 0; i < 3; ++i) least = std::min(least, took("GET /api/now"));  // on a loaded machine too
    CHECK(least < std::chrono::milliseconds(900));
    // What tells whether the token is right takes its second, however its path is written.
    CHECK(took("GET /api/session") >= std::chrono::milliseconds(900));
    CHECK(took("GET /api/%73ession") >= std::chrono::milliseconds(900));
    CHECK(took("POST /api/commit") >= std::chrono::milliseconds(900));
}

TEST_CASE("what cannot be listened on is said in a sentence") {
    FakeHost host;
    asio::io_context io;
    auto const fails_with = [&](ServerSettings settings) -> std::string {
        Server server(io, host, std::move(settings));
        try {
            server.start();
        } catch (std::runtime_error const& error) {
            return error.what();
        }
        return "started";
    };
    ServerSettings open;
    open.tcp = ServerSettings::Tcp{"0.0.0.0", 0, ""};
    CHECK_THAT(fails_with(open), INGLE_CONTAINS("a token is required"));
    open.tcp->token = "sesame";
    CHECK(fails_with(open) == "started");
    open.tcp->address = "kitchen";
    CHECK_THAT(fails_with(open), INGLE_CONTAINS("no address"));
    CHECK_THAT(fails_with(on("/tmp/" + std::string(200, 'x'))), INGLE_CONTAINS("longer than a socket's"));
    CHECK_THAT(fails_with(on("/nowhere/ingled.sock")),
               INGLE_CONTAINS("cannot listen on /nowhere/ingled.sock"));
    auto const path = fresh_path();
    std::ofstream(path) << "a file";
    CHECK_THAT(fails_with(on(path)), INGLE_CONTAINS("no socket"));
    CHECK(std::filesystem::exists(path));
    std::filesystem::remove(path);
    // Left over from a crash: a socket file that nobody answers.
    { Local::acceptor dead(io, Local::endpoint(path)); }
    REQUIRE(std::filesystem::exists(path));
    {
        Running running(on(path));
        CHECK(get(path, "/healthz").starts_with("HTTP/1.1 200"));
        CHECK_THAT(fails_with(on(path)), INGLE_CONTAINS("another ingled already answers"));
        CHECK(get(path, "/healthz").starts_with("HTTP/1.1 200"));
    }
}

TEST_CASE("a logbook that never answers costs the client 504, not the daemon") {
    auto const path = fresh_path();
    auto settings = on(path);
    settings.reply_limit = Span(50);
    Running running(settings);
    running.on_loop([&](Server&) { return running.host.never_answers = true; });
    CHECK(get(path, "/api/history").starts_with("HTTP/1.1 504"));
    // The late answer finds nobody and does no harm.
    running.on_loop([&](Server&) {
        for (auto const& reply : running.host.waiting) reply({});
        return 0;
    });
    CHECK(get(path, "/healthz").starts_with("HTTP/1.1 200"));
}

TEST_CASE("stopping waits for nobody") {
    for (int round = 0; round < 50; ++round) {
        auto const path = fresh_path();
        Running running(on(path));
        asio::io_context io;
        auto idle = connect(io, path), listening = connect(io, path), waiting = connect(io, path),
             half = connect(io, path);
        running.on_loop([&](Server&) { return running.host.never_answers = true; });
        asio::write(listening, asio::buffer(std::string("GET /api/events HTTP/1.1\r\n\r\n")));
        asio::write(waiting, asio::buffer(std::string("GET /api/history HTTP/1.1\r\n\r\n")));
        asio::write(half, asio::buffer(std::string("GET /api/now HT")));
        if (round % 2)
            REQUIRE(running.wait_for([](ServerCounts const& counts) { return counts.listeners == 1; }));
        CHECK(running.stop() < std::chrono::seconds(1));
    }
}
