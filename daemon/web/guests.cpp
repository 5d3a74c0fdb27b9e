#include "daemon/web/guests.hpp"

#include <nlohmann/json.hpp>

#include "config/quantity.hpp"
#include "daemon/web/json_parts.hpp"
#include "daemon/web/link_page.hpp"

namespace ingle {
namespace {

constexpr double longest_s = 31 * 86'400.0, shortest_s = 60;

std::optional<WallMs> wall_now(WebHost& host) {
    auto const offset = host.view().wall_offset_ms;
    return offset ? std::optional(host.now().time_since_epoch().count() + *offset) : std::nullopt;
}

Response refused(WebHost& host, int status, std::string text) {
    return link_page(host.settings().name, {status, std::move(text), false, {}}, false);
}

}  // namespace

std::optional<WallMs> guest_until(Caller const& caller, WebHost& host, std::string const& token) {
    auto const pass = guest_pass_of(caller);
    if (pass.empty() || shows_token(caller, token)) return {};
    auto const until = host.guest_until(token, pass);
    auto const now = until ? wall_now(host) : std::nullopt;
    return now && *now < *until ? until : std::nullopt;
}

Response make_guest_link(std::string_view body, WebHost& host, std::string const& token) {
    auto const json = nlohmann::json::parse(body, nullptr, false);
    if (!json.is_object() || json.size() != 1 || !json.contains("for") || !json["for"].is_string())
        return plain_error(400, "the body is {\"for\": a length of time, such as \"8 h\"}");
    auto const length = parse_duration(json["for"].get<std::string>());
    if (auto const* error = std::get_if<QuantityError>(&length))
        return plain_error(400, "for: " + error->wrong + "; " + error->right);
    auto const s = std::get<Duration>(length).seconds;
    if (!(s >= shortest_s && s <= longest_s)) return plain_error(400, "\"for\" is 1 min to 31 days");
    auto const now = wall_now(host);
    if (!now) return plain_error(409, "the time is not known yet, and the link ends by it");
    auto const until = (*now + static_cast<WallMs>(s * 1000)) / 1000 * 1000;
    auto const pass = host.guest_pass(token, until);
    if (pass.empty())
        return plain_error(409,
                           "no link can be signed: there is no token for the page, or guest.key of the "
                           "state folder cannot be made or may be read by others");
    web_json::Json answer{{"done", true},
                          {"text", "the link is made; whoever has it may look until it ends"},
                          {"link", "/guest/" + pass},
                          {"until", web_json::wall(until, host.zone())}};
    return {200, "application/json", web_json::text(answer), {}};
}

Response open_guest_link(std::string_view pass, WebHost& host, std::string const& token) {
    auto const until = host.guest_until(token, pass);
    if (!until)
        return refused(host, 404,
                       "This link is not one of this kitchen's, or not any more. Ask for another one.");
    auto const now = wall_now(host);
    if (!now)
        return refused(host, 503,
                       "The time is not known here yet, so nobody can say whether this link still holds. "
                       "Try it again in a minute.");
    if (*now >= *until) return refused(host, 410, "This link has ended. Ask for another one.");
    auto const cookie = "ingle-guest=" + std::string(pass) + "; Path=/; HttpOnly; SameSite=Strict; Max-Age=" +
                        std::to_string((*until - *now) / 1000);
    return {303,
            "text/plain; charset=utf-8",
            "",
            {{"Location", "/"}, {"Set-Cookie", cookie}, {"Referrer-Policy", "no-referrer"}}};
}

}  // namespace ingle
