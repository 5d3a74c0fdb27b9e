#include "daemon/web/routes.hpp"

#include <algorithm>
#include <charconv>

#include "config/civil_time/iso_time.hpp"
#include "config/did_you_mean.hpp"
#include "config/wall_time.hpp"
#include "daemon/web/commands.hpp"
#include "daemon/web/guests.hpp"
#include "daemon/web/json.hpp"
#include "daemon/web/link_page.hpp"
#include "daemon/web/metrics.hpp"
#include "daemon/web/page_answer.hpp"

namespace ingle {
namespace {

constexpr std::size_t wanted_points = 600;  // of a series, where no grain is asked for
constexpr WallMs earliest_ms = earliest_wall_time.time_since_epoch().count();
constexpr WallMs latest_ms = latest_wall_time.time_since_epoch().count();
constexpr double hour_s = 3600, week_s = 7 * 86'400.0, month_s = 30 * 86'400.0;

WallMs wall_now(WebHost& host, View const& view) {
    return host.now().time_since_epoch().count() + view.wall_offset_ms.value_or(0);
}

// A moment of a request: ISO 8601 with offset, or milliseconds since 1970.
std::optional<WallMs> moment(std::string const& text) {
    WallMs ms = 0;
    auto const [end, error] = std::from_chars(text.data(), text.data() + text.size(), ms);
    if (error == std::errc{} && end == text.data() + text.size() && !text.empty())
        return ms >= earliest_ms && ms <= latest_ms ? std::optional(ms) : std::nullopt;
    auto const wall = parse_iso_time(text);
    return wall ? std::optional<WallMs>(wall->time_since_epoch().count()) : std::nullopt;
}

using SpanOrError = std::variant<TimeSpan, Response>;

SpanOrError span_of(Target const& target, WallMs now, double otherwise_s) {
    auto const from = target.get("from"), to = target.get("to"), last = target.get("last");
    if (last && (from || to)) return plain_error(400, "\"last\" goes without \"from\" and \"to\"");
    TimeSpan span{now - static_cast<WallMs>(otherwise_s * 1000), now + 1};
    if (last) {
        auto const length = parse_duration(*last);
        if (auto const* error = std::get_if<QuantityError>(&length)) {
            return plain_error(400, "last: " + error->wrong + "; " + error->right);
        }
        auto const s = std::get<Duration>(length).seconds;
        if (!(s > 0)) return plain_error(400, "\"last\" must be longer than nothing");
        if (s > longest_look_back_s) return plain_error(400, "\"last\" is 100 years at most");
        span.from = now - from_seconds(s).count();
    }
    for (auto const& [name, text, place] :
         {std::tuple{"from", &from, &span.from}, std::tuple{"to", &to, &span.to}}) {
        if (!*text) continue;
        auto const at = moment(**text);
        if (!at) {
            return plain_error(400, std::string("\"") + name +
                                        "\" must be ISO 8601 with offset, or milliseconds since 1970, "
                                        "in the years 0 to 9999");
        }
        *place = *at;
    }
    if (to && !from) span.from = std::max(span.to - static_cast<WallMs>(otherwise_s * 1000), earliest_ms);
    if (span.from >= span.to) return plain_error(400, "the span ends before it begins");
    return span;
}

Response json_answer(std::string body) {
    return {200, "application/json", std::move(body), {}};
}

Response unreadable(std::string const& error) {
    return plain_error(503, error);
}

Routed get_history(Target const& target, WebHost& host, View const& view) {
    auto const wrong = target.unknown({"from", "to", "last", "probe", "grain"});
    if (!wrong.empty()) return plain_error(400, wrong);
    auto const span = span_of(target, wall_now(host, view), hour_s);
    if (auto const* error = std::get_if<Response>(&span)) return *error;
    HistoryQuery query;
    query.span = std::get<TimeSpan>(span);
    query.probes = target.all("probe");
    auto const length = query.span.to - query.span.from;
    if (auto const grain = target.get("grain"); grain && *grain != "raw") {
        auto const parsed = parse_duration(*grain);
        if (auto const* error = std::get_if<QuantityError>(&parsed)) {
            return plain_error(
                400, "grain: " + error->wrong + "; " + error->right + ", or \"raw\" for each reading");
        }
        auto const s = std::get<Duration>(parsed).seconds;
        if (s > longest_look_back_s) return plain_error(400, "\"grain\" is 100 years at most");
        query.grain = from_seconds(s);
        if (query.grain.count() <= 0)
            return plain_error(400, "\"grain\" must be longer than nothing, or \"raw\"");
    } else if (!grain && length > static_cast<WallMs>(wanted_points) * 1000) {
        query.grain = Span((length / static_cast<WallMs>(wanted_points) / 1000 + 1) * 1000);
    }
    if (query.grain.count() > 0 && static_cast<std::uint64_t>(length / query.grain.count()) > query.most) {
        return plain_error(400, "too many points; ask for a wider grain or a shorter span");
    }
    return Ask([&host, query](Reply<Response> reply) {
        host.history(query, [&host, query, reply = std::move(reply)](Answer<History> answer) {
            reply(answer.error.empty()
                      ? Response{200, "application/json", history_json(query, answer.value, host.zone()), {}}
                      : unreadable(answer.error));
        });
    });
}

Routed get_alarms(Target const& target, WebHost& host, View const& view) {
    auto const wrong = target.unknown({"from", "to", "last"});
    if (!wrong.empty()) return plain_error(400, wrong);
    if (target.parameters.empty())
        return Response{200, "application/json", alarms_json(view, host.zone()), {}};
    auto const span = span_of(target, wall_now(host, view), month_s);
    if (auto const* error = std::get_if<Response>(&span)) return *error;
    auto const asked = std::get<TimeSpan>(span);
    return Ask([&host, asked](Reply<Response> reply) {
        host.past_alarms(
            asked, [&host, asked, reply = std::move(reply)](Answer<std::vector<PastAlarm>> answer) {
                reply(answer.error.empty() ? Response{200,
                                                      "application/json",
                                                      past_alarms_json(asked, answer.value, host.zone()),
                                                      {}}
                                           : unreadable(answer.error));
            });
    });
}

Routed get_notices(Target const& target, WebHost& host, View const& view) {
    auto const wrong = target.unknown({"from", "to", "last"});
    if (!wrong.empty()) return plain_error(400, wrong);
    auto const span = span_of(target, wall_now(host, view), week_s);
    if (auto const* error = std::get_if<Response>(&span)) return *error;
    auto const asked = std::get<TimeSpan>(span);
    return Ask([&host, asked](Reply<Response> reply) {
        host.past_notices(asked, [&host, asked, reply = std::move(reply)](Answer<PastNotices> answer) {
            if (!answer.error.empty()) return reply(unreadable(answer.error));
            reply({200,
                   "application/json",
                   notices_json(asked, answer.value, host.status(), host.pending_notices(), host.view(),
                                host.zone()),
                   {}});
        });
    });
}

Routed get_cooks(Target const& target, WebHost& host, View const& view) {
    auto const wrong = target.unknown({"from", "to", "last"});
    if (!wrong.empty()) return plain_error(400, wrong);
    auto const span = span_of(target, wall_now(host, view), 12 * month_s);
    if (auto const* error = std::get_if<Response>(&span)) return *error;
    auto const asked = std::get<TimeSpan>(span);
    return Ask([&host, asked](Reply<Response> reply) {
        host.past_cooks(asked, [&host, reply = std::move(reply)](Answer<std::vector<PastCook>> answer) {
            reply(answer.error.empty() ? json_answer(cooks_json(host.view(), answer.value, host.zone()))
                                       : unreadable(answer.error));
        });
    });
}

Routed get_export(Target const& target, WebHost& host, View const& view) {
    auto const wrong = target.unknown({"from", "to", "last", "probe", "time"});
    if (!wrong.empty()) return plain_error(400, wrong);
    auto const span = span_of(target, wall_now(host, view), hour_s);
    if (auto const* error = std::get_if<Response>(&span)) return *error;
    auto const time = target.get("time").value_or("real");
    if (time != "real" && time != "elapsed") return plain_error(400, "\"time\" is \"real\" or \"elapsed\"");
    return ExportStream{{std::get<TimeSpan>(span), target.all("probe"), time == "elapsed"}};
}

Ask ask_outcome(std::function<void(Reply<Outcome>)> act) {
    return [act = std::move(act)](Reply<Response> reply) {
        act([reply](Outcome outcome) {
            reply({outcome.done ? 200 : 409, "application/json", outcome_json(outcome), {}});
        });
    };
}

// What a handler answers from.
struct Asked {
    Request const& request;
    Target const& target;
    WebHost& host;
    ServerCounts const& counts;
    std::string const& token;
    std::string_view chosen{};            // what stands for "{...}" in the path
    Caller const& caller;                 // the request's, and whether a guest
    std::optional<WallMs> guest_until{};  // empty: no guest asks
};

Routed post_command(Asked const& asked) {
    auto& host = asked.host;
    auto command = read_command(asked.chosen, asked.request.body, host.settings(), host.view().wall_offset_ms,
                                host.zone());
    if (auto const* bad = std::get_if<BadCommand>(&command)) return plain_error(bad->status, bad->text);
    if (auto const bad = wrong_time(std::get<Command>(command), host.now()))
        return plain_error(bad->status, bad->text);
    return ask_outcome([&host, command = std::get<Command>(command)](Reply<Outcome> reply) {
        host.submit(command, std::move(reply));
    });
}

Routed post_commit(Asked const& asked) {
    return ask_outcome([&host = asked.host](Reply<Outcome> reply) { host.commit(std::move(reply)); });
}

Routed post_channel_test(Asked const& asked) {
    auto& host = asked.host;
    auto const name = std::string(asked.chosen);
    auto const& channels = host.settings().channels;
    if (std::ranges::find(channels, name, &ChannelSettings::name) == channels.end()) {
        return plain_error(404,
                           "there is no channel \"" + name + "\"" + did_you_mean(name, names_of(channels)));
    }
    return ask_outcome([&host, name](Reply<Outcome> reply) { host.test_channel(name, std::move(reply)); });
}

Response nothing_to_post_to(std::string const& path) {
    return plain_error(404, "there is nothing to post to at " + path);
}

// The guard has let it through, so the token was shown: keep it for the page, or forget it.
template <bool keep>
Routed post_session(Asked const& asked) {
    if (!asked.request.caller.tcp) return nothing_to_post_to(asked.target.path);
    return Response{204, "application/json", "", {{"Set-Cookie", token_cookie(keep ? asked.token : "")}}};
}

// For a page: may this caller change something, and if not, why?
Routed get_session(Asked const& asked) {
    auto const& caller = asked.caller;
    auto answer =
        json_answer(session_json(guard(caller, true, asked.token), asked.guest_until, asked.host.zone()));
    if (auto const cookie = cookie_anew(caller, asked.token))
        answer.headers.emplace_back("Set-Cookie", *cookie);
    return answer;
}

Routed get_now(Asked const& asked) {
    auto& host = asked.host;
    return json_answer(
        now_json(host.view(), host.status(), host.settings(), host.pending_notices(), host.zone()));
}
Routed get_schedule(Asked const& asked) {
    return Ask([&host = asked.host](Reply<Response> reply) {
        host.schedule([reply = std::move(reply)](Answer<std::string> answer) {
            reply(answer.error.empty() ? json_answer(std::move(answer.value)) : unreadable(answer.error));
        });
    });
}
Routed get_metrics(Asked const& asked) {
    return Response{
        200, metrics_type, metrics_text(asked.host.view(), asked.host.status(), asked.counts), {}};
}
Routed get_health(Asked const& asked) {
    return json_answer(health_json(asked.host.view(), asked.host.status()));
}
Routed get_events(Asked const& asked) {
    return EventStream{asked.guest_until};
}

Routed get_page_file(Asked const& asked) {
    return page_answer(asked.target.path, asked.request);
}

Routed get_link(Asked const& asked) {
    return link_page(asked.host.settings().name, asked.host.notice_link(std::string(asked.chosen)), false);
}

Routed post_link(Asked const& asked) {
    return Ask([&host = asked.host, token = std::string(asked.chosen)](Reply<Response> reply) {
        host.use_notice_link(token, [&host, reply = std::move(reply)](NoticeLink const& link) {
            reply(link_page(host.settings().name, link, true));
        });
    });
}

template <Routed (*answer)(Target const&, WebHost&, View const&)>
Routed with_parameters(Asked const& asked) {
    return answer(asked.target, asked.host, asked.host.view());
}

struct Route {
    std::string_view method, path;
    Routed (*answer)(Asked const&);
    bool takes_parameters = false;
    bool for_everybody = false;  // no token is asked for, even off loopback: it says nothing of this kitchen
    bool signed_link = false;    // it is its own token, good for what it says and nothing else
};

constexpr Route routes[] = {
    {"GET", "/", get_page_file, false, true},
    {"GET", "/page.css", get_page_file, false, true},
    {"GET", "/page.js", get_page_file, false, true},
    {"GET", "/page.webmanifest", get_page_file, false, true},
    {"GET", "/icon.svg", get_page_file, false, true},
    {"GET", "/api/openapi.json", get_page_file},
    {"GET", "/api/asyncapi.json", get_page_file},
    {"GET", "/api/now", get_now},
    {"GET", "/api/history", with_parameters<get_history>, true},
    {"GET", "/api/alarms", with_parameters<get_alarms>, true},
    {"GET", "/api/cooks", with_parameters<get_cooks>, true},
    {"GET", "/api/events", get_events},
    {"GET", "/api/export", with_parameters<get_export>, true},
    {"GET", "/api/notices", with_parameters<get_notices>, true},
    {"GET", "/api/schedule", get_schedule},
    {"GET", "/api/session", get_session},
    {"GET", "/metrics", get_metrics},
    // An outside watcher may always ask whether the daemon lives.
    {"GET", "/healthz", get_health, false, true},
    {"POST", "/api/commands/{command}", post_command},
    {"POST", "/api/commit", post_commit},
    {"POST", "/api/channels/{channel}/test", post_channel_test},
    {"POST", "/api/session", post_session<true>},
    {"POST", "/api/session/end", post_session<false>},
    {"POST", "/api/guest",
     [](Asked const& a) -> Routed { return make_guest_link(a.request.body, a.host, a.token); }},
    {"GET", "/guest/{pass}",
     [](Asked const& a) -> Routed { return open_guest_link(a.chosen, a.host, a.token); }, false, false, true},
    {"GET", "/link/{link}", get_link, false, false, true},
    {"POST", "/link/{link}", post_link, false, false, true},
};

// What stands for "{...}" of the pattern; the path itself, where it has none. Empty: another path.
std::optional<std::string_view> match(std::string_view pattern, std::string_view path) {
    auto const open = pattern.find('{');
    if (open == std::string_view::npos) return pattern == path ? std::optional(path) : std::nullopt;
    auto const before = pattern.substr(0, open), after = pattern.substr(pattern.find('}') + 1);
    if (path.size() < before.size() + after.size() || !path.starts_with(before) || !path.ends_with(after)) {
        return {};
    }
    return path.substr(before.size(), path.size() - before.size() - after.size());
}

Route const* find_route(std::string_view method, std::string_view path) {
    auto const found = std::ranges::find_if(
        routes, [&](Route const& row) { return row.method == method && match(row.path, path); });
    return found == std::end(routes) ? nullptr : found;
}

Response nothing_at(std::string const& path) {
    std::string known;
    for (auto const& row : routes)
        if (row.method == "GET") known.append(known.empty() ? "" : ", ").append(row.path);
    return plain_error(404, "there is nothing at " + path + "; there are " + known);
}

}  // namespace

Response plain_error(int status, std::string const& text) {
    return {status, "application/json", error_json(text), {}};
}

std::vector<std::pair<std::string_view, std::string_view>> route_list() {
    std::vector<std::pair<std::string_view, std::string_view>> list;
    for (auto const& row : routes) list.emplace_back(row.method, row.path);
    return list;
}

Routed route(Request const& request, WebHost& host, ServerCounts const& counts, std::string const& token) {
    auto const target = parse_target(request.target);
    if (!target) return plain_error(400, "the request target cannot be understood");
    bool const reads = request.method == "GET" || request.method == "HEAD";
    if (!reads && request.method != "POST") {
        auto response = plain_error(405, "only GET, HEAD and POST are understood");
        response.headers.emplace_back("Allow", "GET, HEAD, POST");
        return response;
    }
    auto const* found = find_route(reads ? "GET" : "POST", target->path);
    auto const guest = guest_until(request.caller, host, token);
    auto caller = request.caller;
    caller.guest = guest.has_value();
    if (auto const refusal = guard(caller, !reads, token);
        refusal.status != 0 && !(refusal.status == 401 && found && found->for_everybody) &&
        !(found && found->signed_link)) {
        auto response = plain_error(refusal.status, refusal.text);
        if (refusal.status == 401) response.headers.emplace_back("WWW-Authenticate", "Bearer");
        if (auto const cookie = cookie_anew(request.caller, token); cookie && refusal.status == 401)
            response.headers.emplace_back("Set-Cookie", *cookie);
        return response;
    }
    if (reads && !found) return nothing_at(target->path);
    if (!target->parameters.empty() && !(found && found->takes_parameters)) {
        return plain_error(400, target->unknown({}));
    }
    if (!reads && !request.body.empty() && !request.content_type.starts_with("application/json")) {
        return plain_error(415, "the body must be sent as application/json");
    }
    if (!found) return nothing_to_post_to(target->path);
    auto const chosen = *match(found->path, target->path);
    return found->answer({request, *target, host, counts, token, chosen, caller, guest});
}

}  // namespace ingle
