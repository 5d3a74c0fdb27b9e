// The page's files and the description of the API, as the server gives them.
#include <nlohmann/json.hpp>
#include <set>

#include "daemon/page/page.hpp"
#include "daemon/web/commands.hpp"
#include "daemon/web/page_answer.hpp"
#include "daemon/web/routes.hpp"
#include "fake_host.hpp"
#include "tests/support/catch.hpp"

using namespace ingle;
using nlohmann::json;
using test::FakeHost;

namespace {

Response ask(std::string method, std::string target, Caller caller = {}, std::string token = "",
             std::string if_none_match = "", std::string accept_encoding = "") {
    FakeHost host;
    auto const routed = route({std::move(method), std::move(target), "", "", caller, std::move(if_none_match),
                               std::move(accept_encoding)},
                              host, {}, token);
    return std::holds_alternative<Response>(routed) ? std::get<Response>(routed) : Response{0, "", "", {}};
}

std::string header(Response const& response, std::string_view name) {
    for (auto const& [key, value] : response.headers)
        if (key == name) return value;
    return {};
}

Caller from_afar() {
    Caller caller;
    caller.tcp = caller.off_loopback = true;
    caller.host = "192.168.1.20:8094";
    caller.bound_address = "0.0.0.0";
    return caller;
}

using Names = std::set<std::pair<std::string, std::string>>;

// Method and path of each operation that the description has.
Names described(json const& document) {
    Names names;
    for (auto const& [path, operations] : document.at("paths").items())
        for (auto const& [method, operation] : operations.items())
            names.emplace(method == "get" ? "GET" : "POST", path);
    return names;
}

}  // namespace

TEST_CASE("the page is a document, a style sheet and one module, within 100 kB, and 32 kB when packed") {
    std::size_t bytes = 0, packed_bytes = 0;
    for (auto const& [path, type] : {std::pair{"/", "text/html; charset=utf-8"},
                                     {"/page.css", "text/css; charset=utf-8"},
                                     {"/page.js", "text/javascript; charset=utf-8"}}) {
        auto const response = ask("GET", path);
        CHECK(response.status == 200);
        CHECK(response.type == type);
        bytes += response.body.size();
        auto const packed = ask("GET", path, {}, "", "", "gzip, deflate, br");
        CHECK(header(packed, "Content-Encoding") == "gzip");
        CHECK(packed.body.starts_with("\x1f\x8b"));
        packed_bytes += packed.body.size();
    }
    CHECK(bytes > 10'000);
    CHECK(bytes < 100'000);
    CHECK(packed_bytes < 32'000);  // of the 120 kB of a first load, which the test in the browser measures
    CHECK(ask("GET", "/page.map").status == 404);
    CHECK(ask("GET", "/?x=1").status == 400);
}

TEST_CASE("a file of the page is packed for who takes it so, with a validator of its own") {
    auto const etag = header(ask("GET", "/page.js"), "ETag");
    auto const packed = ask("GET", "/page.js", {}, "", "", "br;q=1.0, GZIP;q=0.5");
    CHECK(header(packed, "Vary") == "Accept-Encoding");
    CHECK(header(packed, "ETag") != etag);
    for (char const* none : {"", "identity", "gzip;q=0", "gzip; q=0.000", "x-gzip-like", "br"}) {
        CAPTURE(none);
        CHECK_FALSE(takes_gzip(none));
        CHECK(header(ask("GET", "/page.js", {}, "", "", none), "Content-Encoding").empty());
    }
    CHECK(ask("GET", "/page.js", {}, "", header(packed, "ETag"), "gzip").status == 304);
    CHECK(ask("GET", "/page.js", {}, "", etag, "gzip").status == 200);
    CHECK(ask("GET", "/page.js", {}, "", etag).status == 304);
}

TEST_CASE("the page can be installed: its manifest names what is there, for everybody") {
    auto const answer = ask("GET", "/page.webmanifest", from_afar(), "sesame");
    REQUIRE(answer.status == 200);
    CHECK(answer.type == "application/manifest+json");
    auto const manifest = json::parse(answer.body);
    CHECK(manifest.at("display") == "standalone");
    CHECK(ask("GET", manifest.at("start_url")).status == 200);
    for (auto const& icon : manifest.at("icons")) {
        auto const picture = ask("GET", icon.at("src"), from_afar(), "sesame");
        CHECK(picture.status == 200);
        CHECK(picture.type == icon.at("type"));
    }
    CHECK_THAT(header(ask("GET", "/"), "Content-Security-Policy"), INGLE_CONTAINS("manifest-src 'self'"));
}

TEST_CASE("the page's modules are the whole folder, each after those that it imports") {
    auto const& joined = ask("GET", "/page.js").body;
    CHECK(joined.find("\nimport ") == std::string::npos);
    CHECK(joined.find("\nexport ") == std::string::npos);
    CHECK(joined.find("export function") == std::string::npos);
    CHECK(joined.find("innerHTML") == std::string::npos);
    CHECK(joined.find("link.start();") != std::string::npos);
}

TEST_CASE("a file that the browser has is not sent again") {
    auto const first = ask("GET", "/page.js");
    auto const tag = header(first, "ETag");
    CHECK(tag.size() == 18);
    auto const again = ask("GET", "/page.js", {}, "", "\"other\", " + tag);
    CHECK(again.status == 304);
    CHECK(again.body.empty());
    CHECK(header(again, "ETag") == tag);
    CHECK(ask("GET", "/page.js", {}, "", "\"other\"").status == 200);
}

TEST_CASE("the page may load and reach nothing but this server, and runs no code of the document") {
    auto const policy = header(ask("GET", "/"), "Content-Security-Policy");
    CHECK_THAT(policy, INGLE_CONTAINS("default-src 'none'"));
    CHECK_THAT(policy, INGLE_CONTAINS("frame-ancestors 'none'"));
    CHECK(policy.find("unsafe") == std::string::npos);
    auto const& document = ask("GET", "/").body;
    CHECK(document.find("style=") == std::string::npos);
    CHECK(document.find("<style") == std::string::npos);
    CHECK(document.find("onclick") == std::string::npos);
}

TEST_CASE("beyond this machine the page comes without the token, what it shows does not") {
    CHECK(ask("GET", "/", from_afar(), "sesame").status == 200);
    CHECK(ask("HEAD", "/page.js", from_afar(), "sesame").status == 200);
    for (auto const* path : {"/api/now", "/api/session", "/api/openapi.json", "/metrics", "/no-such-file"})
        CHECK(ask("GET", path, from_afar(), "sesame").status == 401);
    CHECK(ask("POST", "/", from_afar(), "sesame").status == 401);
    auto rebound = from_afar();
    rebound.host = "kitchen.example";
    CHECK(ask("GET", "/", rebound, "sesame").status == 403);
    auto foreign = from_afar();
    foreign.origin = "http://other.example";
    CHECK(ask("GET", "/page.js", foreign, "sesame").status == 403);
}

TEST_CASE("a notice's link is its own token: looked at it asks, pressed it acts, and it opens nothing else") {
    FakeHost host;
    auto const press = [&](std::string const& method, std::string const& target) {
        auto routed = route({method, target, "", "", from_afar(), ""}, host, {}, "sesame");
        Response answer{0, "", "", {}};
        if (auto* ask = std::get_if<Ask>(&routed))
            (*ask)([&](Response response) { answer = std::move(response); });
        else
            answer = std::get<Response>(routed);
        return answer;
    };
    auto const looked = press("GET", "/link/good");
    CHECK(looked.status == 200);
    CHECK_THAT(looked.body, INGLE_CONTAINS("smoke: &lt;b&gt;open&lt;/b&gt;"));
    CHECK_THAT(looked.body, INGLE_CONTAINS("<form method=\"post\">"));
    CHECK(looked.body.find("<script") == std::string::npos);
    CHECK_THAT(header(looked, "Content-Security-Policy"), INGLE_CONTAINS("default-src 'none'"));
    CHECK(header(looked, "Content-Security-Policy").find("script") == std::string::npos);
    CHECK(header(looked, "Referrer-Policy") == "no-referrer");
    CHECK(host.used_links.empty());
    auto const pressed = press("POST", "/link/good");
    CHECK(pressed.status == 200);
    CHECK_THAT(pressed.body, INGLE_CONTAINS("acknowledged: probe-open of smoke"));
    CHECK(pressed.body.find("<form") == std::string::npos);
    CHECK(host.used_links == std::vector<std::string>{"good"});
    CHECK(press("GET", "/link/bad").status == 404);
    CHECK(press("POST", "/link/bad").status == 404);
    CHECK(press("POST", "/api/commands/acknowledge").status == 401);
    CHECK(press("GET", "/api/now").status == 401);
}

TEST_CASE("a page learns whether it may change something") {
    auto const changes = [](Caller const& caller, std::string const& token) {
        return json::parse(ask("GET", "/api/session", caller, token).body).at("changes");
    };
    Caller here;
    here.tcp = true;
    here.host = "localhost:8094";
    CHECK(changes(here, "") == "never");
    CHECK(changes(here, "sesame") == "token");
    here.cookie = "ingle-token=sesame";
    CHECK(changes(here, "sesame") == "allowed");
    CHECK(changes({}, "") == "allowed");
}

TEST_CASE(
    "the token is kept for a month from when the page was opened last, and forgotten when it is asked") {
    Caller here;
    here.tcp = true;
    here.host = "localhost:8094";
    auto const sets = [&](char const* method, char const* target) {
        return header(ask(method, target, here, "sesame"), "Set-Cookie");
    };
    CHECK(sets("GET", "/api/session").empty());
    here.authorization = "Bearer sesame";
    CHECK(sets("POST", "/api/session") ==
          "ingle-token=sesame; Path=/; HttpOnly; SameSite=Strict; Max-Age=2592000");
    CHECK(sets("GET", "/api/session").empty());  // a program shows its token itself
    here.authorization = "";
    here.cookie = "ingle-token=sesame";
    CHECK_THAT(sets("GET", "/api/session"), INGLE_CONTAINS("ingle-token=sesame; "));
    CHECK_THAT(sets("GET", "/api/session"), INGLE_CONTAINS("Max-Age=2592000"));
    CHECK(sets("POST", "/api/session/end") == "ingle-token=; Path=/; HttpOnly; SameSite=Strict; Max-Age=0");
    here.cookie = "ingle-token=of-last-year";
    CHECK_THAT(sets("GET", "/api/session"), INGLE_CONTAINS("ingle-token=; "));
    CHECK_THAT(sets("POST", "/api/session/end"), INGLE_CONTAINS("Max-Age=0"));
    CHECK(sets("GET", "/api/now").empty());
    here.off_loopback = true;
    CHECK_THAT(sets("GET", "/api/now"), INGLE_CONTAINS("Max-Age=0"));
    CHECK(ask("POST", "/api/session/end").status == 404);  // the socket keeps nothing
}

TEST_CASE("a guest looks until his time and changes nothing, on this machine and beyond") {
    FakeHost host;
    auto const now = host.offset + host.now().time_since_epoch().count();
    auto const send = [&](char const* method, std::string const& target, Caller const& caller,
                          std::string const& body = "", std::string const& token = "sesame") {
        auto const routed = route({method, target, body, "application/json", caller}, host, {}, token);
        return std::holds_alternative<Response>(routed) ? std::get<Response>(routed)
                                                        : Response{0, "", "", {}};
    };
    auto cook = from_afar();
    cook.authorization = "Bearer sesame";
    auto const made = send("POST", "/api/guest", cook, R"({"for": "8 h"})");
    REQUIRE(made.status == 200);
    std::string const link = json::parse(made.body).at("link");
    auto const opened = send("GET", link, from_afar());
    CHECK(opened.status == 303);
    CHECK(header(opened, "Location") == "/");
    auto const cookie = header(opened, "Set-Cookie");
    CHECK_THAT(cookie, INGLE_CONTAINS("HttpOnly; SameSite=Strict; Max-Age=28"));

    auto const shown = cookie.substr(0, cookie.find(';'));
    auto far = from_afar(), near = from_afar();
    near.off_loopback = false;
    far.cookie = near.cookie = shown;
    for (auto const& guest : {far, near}) {
        CHECK(send("GET", "/api/now", guest).status == 200);
        for (char const* order : {"/api/commands/acknowledge", "/api/commit", "/api/guest", "/api/session"}) {
            INFO(order);
            CHECK(send("POST", order, guest).status == 403);
        }
        auto const session = json::parse(send("GET", "/api/session", guest).body);
        CHECK(session.at("changes") == "never");
        CHECK_FALSE(session.at("guest_until").is_null());
    }
    CHECK(host.commands.empty());
    far.authorization = "Bearer sesame";  // the token goes before the pass
    CHECK(send("POST", "/api/commands/acknowledge", far).status != 403);
    CHECK(json::parse(send("GET", "/api/session", far).body).at("guest_until").is_null());

    auto const status_with = [&](std::string const& pass, std::string const& token = "sesame") {
        auto guest = from_afar();
        auto const sent = "ingle-guest=" + pass;
        guest.cookie = sent;
        return std::pair(send("GET", "/api/now", guest, "", token).status,
                         send("GET", "/guest/" + pass, from_afar(), "", token).status);
    };
    auto const good = host.guest_pass("sesame", now + 60'000);
    CHECK(status_with(good) == std::pair(200, 303));
    CHECK(status_with(host.guest_pass("sesame", now - 1)) == std::pair(401, 410));
    CHECK(status_with(good, "another") == std::pair(401, 404));
    CHECK(status_with(good + "1") == std::pair(401, 404));
    CHECK(status_with("x") == std::pair(401, 404));
    host.clock_known = false;
    CHECK(status_with(good) == std::pair(401, 503));
    CHECK(send("POST", "/api/guest", cook, R"({"for": "8 h"})").status == 409);
    host.clock_known = true;
    for (char const* body : {"", "{}", R"({"for": 8})", R"({"for": "8"})", R"({"for": "32 days"})",
                             R"({"for": "0 s"})", R"({"for": "8 h", "who": "x"})"}) {
        INFO(body);
        CHECK(send("POST", "/api/guest", cook, body).status == 400);
    }
    CHECK(send("POST", "/api/guest", from_afar(), R"({"for": "8 h"})").status == 401);
}

TEST_CASE("openapi.json describes every route, and no route that is not there") {
    auto const document = json::parse(ask("GET", "/api/openapi.json").body);
    CHECK(document.at("openapi") == "3.1.0");
    Names served;
    for (auto const& [method, path] : route_list()) {
        if (path != "/api/commands/{command}") served.emplace(method, path);
    }
    for (auto const name : command_names()) served.emplace("POST", "/api/commands/" + std::string(name));
    auto const told = described(document);
    for (auto const& [method, path] : served) {
        INFO(method << " " << path << " is served and not described");
        CHECK(told.contains({method, path}));
    }
    for (auto const& [method, path] : told) {
        INFO(method << " " << path << " is described and not served");
        CHECK(served.contains({method, path}));
    }
}

// A field that is described is known to the order, and what is called required is asked for.
TEST_CASE("openapi.json describes the fields of every order") {
    FakeHost host;
    auto const document = json::parse(ask("GET", "/api/openapi.json").body);
    for (auto const name : command_names()) {
        auto const& schema = document["paths"]["/api/commands/" + std::string(name)]["post"]["requestBody"]
                                     ["content"]["application/json"]["schema"];
        auto const refusal = read_command(name, R"({"no-such-field": 1})", host.settings(), 0);
        REQUIRE(std::holds_alternative<BadCommand>(refusal));
        auto const& known = std::get<BadCommand>(refusal).text;
        std::set<std::string> listed;
        for (auto const& [field, rest] : schema.at("properties").items()) listed.insert(field);
        auto const at = known.find("known: ");
        REQUIRE(at != std::string::npos);
        std::set<std::string> accepted;
        for (std::size_t from = at + 7; from < known.size();) {
            auto const end = std::min(known.find(", ", from), known.size());
            accepted.insert(known.substr(from, end - from));
            from = end + 2;
        }
        INFO(name << ": " << known);
        CHECK(listed == accepted);
        for (auto const& field : schema.value("required", json::array()))
            CHECK(listed.contains(field.get<std::string>()));
    }
}
