// From a request to its answer, without a socket: what the server's connections and the tests call.
// io_context thread.
#pragma once

#include <functional>
#include <string>
#include <string_view>
#include <utility>
#include <variant>
#include <vector>

#include "daemon/web/guard.hpp"
#include "daemon/web/host.hpp"
#include "daemon/web/server.hpp"
#include "daemon/web/target.hpp"

namespace ingle {

struct Request {
    std::string method, target, body, content_type;
    Caller caller;  // its views point into the connection's own copy of the headers
    std::string if_none_match{}, accept_encoding{};  // headers; "" = not sent
};

struct Response {
    int status = 200;
    std::string type = "application/json";
    std::string body;
    std::vector<std::pair<std::string, std::string>> headers;
};

Response plain_error(int status, std::string const& text);

// An answer at once, or a question to the logbook that the connection asks and waits for, or a stream.
using Ask = std::function<void(Reply<Response>)>;
struct EventStream {
    std::optional<WallMs> until{};  // a guest's end
};
struct ExportStream {
    ExportQuery query;
};
using Routed = std::variant<Response, Ask, EventStream, ExportStream>;

// Every route of the server as method and path, "{...}" in a path for what is chosen: what openapi.json
// describes.
std::vector<std::pair<std::string_view, std::string_view>> route_list();
Routed route(Request const& request, WebHost& host, ServerCounts const& counts, std::string const& token);

}  // namespace ingle
