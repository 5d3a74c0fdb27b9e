#include "daemon/web/guard.hpp"

#include <unistd.h>

#include <algorithm>

#include "drivers/api/asio.hpp"

namespace ingle {
namespace {

bool is_address(std::string const& text) {
    boost::system::error_code error;
    boost::asio::ip::make_address(text, error);
    return !error;
}

std::string lower(std::string_view text) {
    std::string out(text);
    for (auto& c : out)
        if (c >= 'A' && c <= 'Z') c = static_cast<char>(c - 'A' + 'a');
    return out;
}

// "name:8094", "[::1]:8094" without the port and the brackets. "": it is no name with a port.
std::string without_port(std::string_view host) {
    bool const bracketed = host.starts_with('[');
    auto const end = std::min(host.find(bracketed ? ']' : ':'), host.size());
    auto const name = bracketed ? host.substr(1, end - 1) : host.substr(0, end);
    auto const port = host.substr(std::min(end + (bracketed ? 1 : 0), host.size()));
    bool const numeric =
        std::ranges::all_of(port.substr(port.empty() ? 0 : 1), [](char c) { return c >= '0' && c <= '9'; });
    return numeric && (port.empty() || port.front() == ':') ? lower(name) : "";
}

std::string this_machine() {
    char name[256] = {};
    if (gethostname(name, sizeof name - 1) != 0) return {};
    return lower(name);
}

// Below these nobody can register a name on the internet (RFC 6762, RFC 8375, and what ICANN keeps back), so
// what answers there is of this house.
constexpr std::string_view domains_of_a_house[] = {".local", ".lan", ".home", ".internal", ".home.arpa"};

// A rebinding page arrives under its own domain name; an address or this machine's names cannot be its.
bool is_our_host(std::string_view host, std::string const& bound) {
    auto const name = without_port(host);
    if (name.empty()) return false;
    if (name == "localhost" || is_address(name) || name == lower(bound)) return true;
    auto const machine = this_machine();
    if (machine.empty() || !name.starts_with(machine)) return false;
    auto const domain = std::string_view(name).substr(machine.size());
    return domain.empty() || std::ranges::find(domains_of_a_house, domain) != std::end(domains_of_a_house);
}

bool same_text(std::string_view shown, std::string_view token) {
    unsigned difference = shown.size() == token.size() ? 0U : 1U;
    for (std::size_t i = 0; i < token.size(); ++i) {
        auto const c = i < shown.size() ? shown[i] : '\0';
        difference |= static_cast<unsigned char>(c ^ token[i]);
    }
    return difference == 0;
}

std::string_view cookie_value(std::string_view cookie, std::string_view name) {
    while (!cookie.empty()) {
        auto const end = std::min(cookie.find(';'), cookie.size());
        auto pair = cookie.substr(0, end);
        while (!pair.empty() && pair.front() == ' ') pair.remove_prefix(1);
        if (pair.size() > name.size() && pair.starts_with(name) && pair[name.size()] == '=') {
            return pair.substr(name.size() + 1);
        }
        cookie.remove_prefix(std::min(end + 1, cookie.size()));
    }
    return {};
}

}  // namespace

bool is_loopback(std::string_view address) {
    boost::system::error_code error;
    auto const parsed = boost::asio::ip::make_address(std::string(address), error);
    return error ? lower(address) == "localhost" : parsed.is_loopback();
}

bool shows_token(Caller const& caller, std::string_view token) {
    if (token.empty()) return false;
    constexpr std::string_view bearer = "Bearer ";
    if (caller.authorization.starts_with(bearer)) {
        return same_text(caller.authorization.substr(bearer.size()), token);
    }
    return same_text(cookie_value(caller.cookie, "ingle-token"), token);
}

bool shows_wrong_token(Caller const& caller, std::string_view token) {
    return caller.tcp && !token.empty() && !shows_token(caller, token) &&
           (!caller.authorization.empty() || !cookie_value(caller.cookie, "ingle-token").empty());
}

std::string token_cookie(std::string_view token) {
    // From when the page was last opened: a cook does not type 24 signs to acknowledge.
    constexpr int lasts_s = 30 * 86'400;
    return "ingle-token=" + std::string(token) +
           "; Path=/; HttpOnly; SameSite=Strict; Max-Age=" + std::to_string(token.empty() ? 0 : lasts_s);
}

std::optional<std::string> cookie_anew(Caller const& caller, std::string_view token) {
    if (!caller.tcp || !caller.authorization.empty()) return {};
    if (shows_token(caller, token)) return token_cookie(token);
    if (shows_wrong_token(caller, token)) return token_cookie("");
    return {};
}

std::string_view guest_pass_of(Caller const& caller) {
    return caller.tcp ? cookie_value(caller.cookie, "ingle-guest") : std::string_view();
}

Refusal guard(Caller const& caller, bool changes_something, std::string_view token) {
    if (!caller.tcp) return {};
    if (!is_our_host(caller.host, caller.bound_address)) {
        return {403, "the Host header names another site; use an address of this machine or its name"};
    }
    // https: a TLS proxy of the user's own stands before this server and leaves the Host header as it came.
    if (auto const origin = lower(caller.origin), host = lower(caller.host);
        !origin.empty() && origin != "http://" + host && origin != "https://" + host) {
        return {403, "the request comes from a page of another site"};
    }
    if (changes_something && (caller.fetch_site == "cross-site" || caller.fetch_site == "same-site")) {
        return {403, "the request comes from a page of another site"};
    }
    if (shows_token(caller, token)) return {};
    if (caller.guest) {
        if (!changes_something) return {};
        return {403, "a guest may look and change nothing; sign in with the token to give orders"};
    }
    if (caller.off_loopback) {
        return {401, "a token is required; send the header \"Authorization: Bearer TOKEN\""};
    }
    if (changes_something) {
        return {token.empty() ? 403 : 401,
                token.empty() ? "read-only here: set a token under [serve], or use the command line"
                              : "changes need the token; send the header \"Authorization: Bearer TOKEN\""};
    }
    return {};
}

}  // namespace ingle
