#include "tools/cli/program/client.hpp"

#include <unistd.h>

#include <cstdlib>
#include <ostream>
#include <utility>

#include "drivers/api/asio.hpp"

#include <boost/beast/core.hpp>
#include <boost/beast/http.hpp>

namespace ingle::cli {
namespace {

namespace asio = boost::asio;
namespace beast = boost::beast;
namespace http = boost::beast::http;

constexpr auto answer_limit = std::chrono::seconds(30);  // a little more than the daemon gives its logbook
constexpr std::uint64_t most_answer = 256ULL << 20;

NoDaemon unreachable(std::filesystem::path const& socket, boost::system::error_code error) {
    auto const path = socket.string();
    if (error == asio::error::access_denied) {
        return NoDaemon("this user may not open " + path +
                        "; run the command as the daemon's user, or join the group of that file");
    }
    return NoDaemon("no daemon answers at " + path +
                    "; start it with `ingled --kitchen FILE`, or say where it keeps its state with --state");
}

}  // namespace

Json Client::ask(bool post, std::string const& target, std::string const& body) const {
    asio::io_context io;
    beast::basic_stream<asio::local::stream_protocol> stream(io);
    boost::system::error_code error;
    if (socket_.string().size() >= sizeof(sockaddr_un::sun_path)) {
        throw Failure(
            socket_.string() + " is too long for the path of a socket; use a shorter --state folder",
            wrong_usage);
    }
    stream.socket().connect(asio::local::stream_protocol::endpoint(socket_.string()), error);
    if (error) throw unreachable(socket_, error);

    http::request<http::string_body> request(post ? http::verb::post : http::verb::get, target, 11);
    request.set(http::field::host, "localhost");
    request.keep_alive(false);
    if (post) {
        request.set(http::field::content_type, "application/json");
        request.body() = body;
    }
    request.prepare_payload();

    // Asynchronous only for the sake of the time limit: a daemon that hangs must not hang the terminal.
    beast::flat_buffer buffer;
    http::response_parser<http::string_body> parser;
    parser.body_limit(most_answer);
    stream.expires_after(answer_limit);
    http::async_write(stream, request, [&](boost::system::error_code failed, std::size_t) {
        error = failed;
        if (failed) return;
        http::async_read(stream, buffer, parser,
                         [&](boost::system::error_code result, std::size_t) { error = result; });
    });
    io.run();
    if (error == beast::error::timeout) {
        throw Failure("the daemon at " + socket_.string() +
                      " does not answer; see its log, or `ingle doctor`");
    }
    if (error) throw Failure("the daemon at " + socket_.string() + " broke off: " + error.message());

    auto const response = parser.release();
    auto answer = response.body().empty() ? Json::object() : Json::parse(response.body(), nullptr, false);
    if (answer.is_discarded()) throw Failure("the daemon at " + socket_.string() + " answered with no JSON");
    if (response.result_int() >= 300) {
        auto const sentence = answer.is_object() ? answer.value("error", "") : "";
        throw Failure(sentence.empty() ? "the daemon refused: HTTP " + std::to_string(response.result_int())
                                       : sentence);
    }
    return answer;
}

Json Client::get(std::string const& target) const {
    return ask(false, target, {});
}

Json Client::post(std::string const& target, Json const& body) const {
    return ask(true, target, body.dump(-1, ' ', false, Json::error_handler_t::replace));
}

int Client::command(Context& context, std::string const& name, Json const& body, bool json) const {
    auto const answer = post("/api/commands/" + name, body);
    if (json) {
        context.out << answer.dump() << "\n";
    } else {
        context.out << answer.value("text", "done") << "\n";
    }
    return answer.value("done", false) ? done : no;
}

std::string percent_encoded(std::string_view text) {
    constexpr char const* hex = "0123456789ABCDEF";
    std::string out;
    for (char const c : text) {
        auto const byte = static_cast<unsigned char>(c);
        bool const plain = (c >= 'a' && c <= 'z') || (c >= 'A' && c <= 'Z') || (c >= '0' && c <= '9') ||
                           c == '-' || c == '.' || c == '_' || c == '~';
        if (plain) {
            out += c;
        } else {
            out += '%';
            out += hex[byte >> 4];
            out += hex[byte & 15];
        }
    }
    return out;
}

std::string user_name() {
    for (auto const* variable : {"SUDO_USER", "USER", "LOGNAME"}) {
        if (auto const* name = std::getenv(variable); name && *name) return name;
    }
    return "user " + std::to_string(getuid());
}

}  // namespace ingle::cli
