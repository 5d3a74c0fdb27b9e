#include "daemon/web/routes.hpp"

#include <algorithm>
#include <charconv>

#include "config/civil_time/iso_time.hpp"
#include "config/wall_time.hpp"
#include "daemon/web/commands.hpp"
#include "daemon/web/json.hpp"
#include "daemon/web/metrics.hpp"

namespace ingle {
namespace {

constexpr std::size_t wanted_points = 600;  // of a series, where no grain is asked for
constexpr WallMs earliest_ms = earliest_wall_time.time_since_epoch().count();
constexpr WallMs latest_ms = latest_wall_time.time_since_epoch().count();
constexpr double hour_s = 3600, month_s = 30 * 86'400.0;

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

Routed get_cooks(Target const& target, WebHost& host, View const& view) {
    auto const wrong = target.unknown({"from", "to", "last"});
    if (!wrong.empty()) return plain_error(400, wrong);
    auto const span = span_of(target, wall_now(host, view), 12 * month_s);
    if (auto const* error = std::get_if<Response>(&span)) return *error;
    auto const asked = std::get<TimeSpan>(span);
    return Ask([&host, asked](Reply<Response> reply) {
        host.past_cooks(asked, [&host, reply = std::move(reply)](Answer<std::vector<PastCook>> answer) {
            reply(answer.error.empty() ? Response{200,
                                                  "application/json",
                                                  cooks_json(host.view(), answer.value, host.zone()),
                                                  {}}
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

Routed post(Request const& request, Target const& target, WebHost& host, std::string const& token) {
    constexpr std::string_view commands = "/api/commands/", channels = "/api/channels/";
    if (!target.parameters.empty()) return plain_error(400, target.unknown({}));
    if (!request.body.empty() && !request.content_type.starts_with("application/json")) {
        return plain_error(415, "the body must be sent as application/json");
    }
    if (target.path.starts_with(commands)) {
        auto command = read_command(std::string_view(target.path).substr(commands.size()), request.body,
                                    host.settings(), host.view().wall_offset_ms);
        if (auto const* bad = std::get_if<BadCommand>(&command)) return plain_error(bad->status, bad->text);
        return ask_outcome([&host, command = std::get<Command>(command)](Reply<Outcome> reply) {
            host.submit(command, std::move(reply));
        });
    }
    if (target.path == "/api/commit") {
        return ask_outcome([&host](Reply<Outcome> reply) { host.commit(std::move(reply)); });
    }
    if (target.path.starts_with(channels) && target.path.ends_with("/test")) {
        auto const name = target.path.substr(channels.size(), target.path.size() - channels.size() - 5);
        if (std::ranges::find(host.settings().channels, name, &ChannelSettings::name) ==
            host.settings().channels.end()) {
            return plain_error(404, "there is no channel \"" + name + "\"");
        }
        return ask_outcome(
            [&host, name](Reply<Outcome> reply) { host.test_channel(name, std::move(reply)); });
    }
    if (target.path == "/api/session" && request.caller.tcp) {
        // The guard has let it through, so the token was shown: keep it for the page.
        return Response{204,
                        "application/json",
                        "",
                        {{"Set-Cookie", "ingle-token=" + token + "; Path=/; HttpOnly; SameSite=Strict"}}};
    }
    return plain_error(404, "there is nothing to post to at " + target.path);
}

Routed get(Target const& target, WebHost& host, ServerCounts const& counts) {
    auto const view = host.view();
    auto const& path = target.path;
    if (path == "/api/history") return get_history(target, host, view);
    if (path == "/api/alarms") return get_alarms(target, host, view);
    if (path == "/api/cooks") return get_cooks(target, host, view);
    if (path == "/api/export") return get_export(target, host, view);
    constexpr std::string_view plain[] = {"/api/now", "/api/notices", "/api/events", "/metrics", "/healthz"};
    if (std::ranges::find(plain, path) == std::end(plain)) {
        return plain_error(404,
                           "there is nothing at " + path +
                               "; there are /api/now, /api/history, /api/alarms, /api/cooks, /api/events, "
                               "/api/export, /api/notices, /metrics and /healthz");
    }
    if (!target.parameters.empty()) return plain_error(400, target.unknown({}));
    if (path == "/api/now") {
        return Response{
            200, "application/json", now_json(view, host.status(), host.pending_notices(), host.zone()), {}};
    }
    if (path == "/api/notices") {
        return Response{200, "application/json", notices_json(view, host.pending_notices(), host.zone()), {}};
    }
    if (path == "/metrics") return Response{200, metrics_type, metrics_text(view, host.status(), counts), {}};
    if (path == "/healthz") return Response{200, "application/json", health_json(view, host.status()), {}};
    return EventStream{};
}

}  // namespace

Response plain_error(int status, std::string const& text) {
    return {status, "application/json", error_json(text), {}};
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
    // An outside watcher may always ask whether the daemon lives.
    if (auto const refusal = guard(request.caller, !reads, token);
        refusal.status != 0 && !(refusal.status == 401 && reads && target->path == "/healthz")) {
        auto response = plain_error(refusal.status, refusal.text);
        if (refusal.status == 401) response.headers.emplace_back("WWW-Authenticate", "Bearer");
        return response;
    }
    return reads ? get(*target, host, counts) : post(request, *target, host, token);
}

}  // namespace ingle
