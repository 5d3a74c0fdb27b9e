#include <algorithm>

#include "daemon/web/json.hpp"
#include "daemon/web/json_parts.hpp"

namespace ingle {
namespace {

using web_json::Json;
using web_json::number;
using web_json::wall;

Json head() {
    return {{"api_version", api_version}};
}

Json numbers_json(std::vector<std::pair<std::string, double>> const& numbers) {
    Json json = Json::object();
    for (auto const& [name, value] : numbers) json[name] = number(value);
    return json;
}

constexpr WallMs proof_lasts_ms = 7 * 86'400'000LL;  // a channel that delivered within it is proven

Json text_or_null(std::string const& text) {
    return text.empty() ? Json(nullptr) : Json(text);
}

Json notice_json(PastNotice const& notice, PendingNotice const* waiting, View const& view,
                 TimeZone const& zone) {
    Json json{{"id", notice.id}, {"channel", notice.channel}, {"kind", notice.kind}};
    json["alarm"] = text_or_null(notice.alarm);
    json["subject"] = text_or_null(notice.subject);
    json["priority"] = text_or_null(notice.priority);
    json["since"] = wall(notice.since, zone);
    json["state"] = waiting && !waiting->held.empty() ? "held" : notice.state;
    json["attempts"] = Json::array();
    for (auto const& attempt : notice.attempts) {
        json["attempts"].push_back({{"at", wall(attempt.at, zone)},
                                    {"outcome", attempt.outcome},
                                    {"reason", text_or_null(attempt.reason)}});
    }
    // What was never tried is tried at once: the time of its next try is now.
    json["next_try"] = waiting && waiting->next_try
                           ? wall(std::max(*waiting->next_try, view.at), view.wall_offset_ms, zone)
                           : Json(nullptr);
    json["reason"] = text_or_null(waiting ? waiting->held : "");
    json["text"] = notice.text;
    return json;
}

Json channel_json(ChannelStatus const& channel, PastNotices const& past, View const& view,
                  TimeZone const& zone) {
    auto const& offset = view.wall_offset_ms;
    auto const delivered =
        std::ranges::find(past.last_delivered, channel.name, [](auto const& each) { return each.first; });
    std::optional<WallMs> last;
    if (delivered != past.last_delivered.end()) last = delivered->second;
    if (channel.last_delivered && offset)
        last = std::max(last.value_or(0), channel.last_delivered->time_since_epoch().count() + *offset);
    if (channel.last_beat && offset) last = channel.last_beat->time_since_epoch().count() + *offset;
    bool const proven =
        channel.last_beat || channel.last_delivered ||
        (last && offset && view.at.time_since_epoch().count() + *offset - *last <= proof_lasts_ms);
    Json json{{"name", channel.name}, {"kind", channel.kind}};
    json["state"] = !channel.trouble.empty() ? "failing" : proven ? "proven" : "unproven";
    json["last_delivered"] = last ? wall(*last, zone) : Json(nullptr);
    json["reason"] = !channel.trouble.empty() ? Json(channel.trouble)
                     : proven                 ? Json(nullptr)
                     : last                   ? Json("it has delivered nothing for more than a week")
                                              : Json("it has never delivered anything");
    return json;
}

// Columns, not rows: a third of the bytes, and what a chart wants.
Json series_json(HistorySeries const& series) {
    Json times = Json::array(), least = Json::array(), mean = Json::array(), most = Json::array();
    Json count = Json::array(), faults = Json::array();
    for (auto const& point : series.points) {
        times.push_back(point.at);
        least.push_back(number(point.min));
        mean.push_back(number(point.mean));
        most.push_back(number(point.max));
        count.push_back(point.count);
        faults.push_back(point.faults);
    }
    return {{"probe", series.probe},      {"t_ms", std::move(times)}, {"min_c", std::move(least)},
            {"mean_c", std::move(mean)},  {"max_c", std::move(most)}, {"count", std::move(count)},
            {"faults", std::move(faults)}};
}

Json read_with_json(std::optional<PastReadWith> const& with, TimeZone const& zone) {
    if (!with) return nullptr;
    Json json{{"cores", Json::array()}, {"vessels", Json::array()}};
    for (auto const& core : with->cores)
        json["cores"].push_back(
            {{"probe", core.probe}, {"from", wall(core.from, zone)}, {"to", wall(core.to, zone)}});
    for (auto const& place : with->vessels) {
        json["vessels"].push_back({{"vessel", place.vessel},
                                   {"probe", text_or_null(place.probe)},
                                   {"from", wall(place.from, zone)},
                                   {"to", wall(place.to, zone)}});
    }
    return json;
}

}  // namespace

std::string alarms_json(View const& view, TimeZone const& zone) {
    auto json = head();
    json["at"] = wall(view.at, view.wall_offset_ms, zone);
    json["alarms"] = Json::array();
    for (auto const& item : view.alarms) {
        json["alarms"].push_back(web_json::alarm(item, web_json::subject_of(item.subject, view), view.at,
                                                 view.wall_offset_ms, zone));
    }
    return web_json::text(json);
}

std::string past_alarms_json(TimeSpan span, std::vector<PastAlarm> const& alarms, TimeZone const& zone) {
    auto json = head();
    json["from"] = wall(span.from, zone);
    json["to"] = wall(span.to, zone);
    json["alarms"] = Json::array();
    for (auto const& alarm : alarms) {
        Json row{{"id", alarm.id}, {"alarm", alarm.alarm}, {"subject", alarm.subject}};
        row["priority"] = to_word(alarm.priority);
        row["raised"] = wall(alarm.raised, zone);
        row["acknowledged"] = wall(alarm.acknowledged, zone);
        row["acknowledged_by"] = alarm.acknowledged_by.empty() ? Json(nullptr) : Json(alarm.acknowledged_by);
        row["cleared"] = wall(alarm.cleared, zone);
        row["worst"] = number(alarm.worst);
        row["text"] = alarm.text;
        json["alarms"].push_back(std::move(row));
    }
    return web_json::text(json);
}

std::string cooks_json(View const& view, std::vector<PastCook> const& cooks, TimeZone const& zone) {
    auto json = head();
    json["at"] = wall(view.at, view.wall_offset_ms, zone);
    json["cooks"] = Json::array();
    for (auto const& cook : cooks) {
        Json row{{"cook", cook.number}, {"dish", cook.dish}, {"food", cook.food}, {"plan", cook.plan}};
        row["began"] = wall(cook.began, zone);
        row["ended"] = wall(cook.ended, zone);
        row["taken_back"] = cook.taken_back;
        row["read_with"] = read_with_json(cook.read_with, zone);
        json["cooks"].push_back(std::move(row));
    }
    return web_json::text(json);
}

std::string history_json(HistoryQuery const& query, History const& history, TimeZone const& zone) {
    auto json = head();
    json["from"] = wall(query.span.from, zone);
    json["to"] = wall(query.span.to, zone);
    json["grain_s"] = number(seconds(query.grain));
    json["series"] = Json::array();
    for (auto const& series : history.series) json["series"].push_back(series_json(series));
    json["gaps"] = Json::array();
    for (auto const& gap : history.gaps) {
        json["gaps"].push_back({{"probe", gap.probe.empty() ? Json(nullptr) : Json(gap.probe)},
                                {"from_ms", gap.from},
                                {"to_ms", gap.to},
                                {"reason", gap.reason}});
    }
    json["events"] = Json::array();
    for (auto const& event : history.events) {
        json["events"].push_back({{"t_ms", event.at},
                                  {"event", event.name},
                                  {"subject", event.subject},
                                  {"text", event.text},
                                  {"numbers", numbers_json(event.numbers)}});
    }
    return web_json::text(json);
}

std::string notices_json(TimeSpan span, PastNotices const& past, Status const& status,
                         std::vector<PendingNotice> const& pending, View const& view, TimeZone const& zone) {
    auto json = head();
    json["from"] = wall(span.from, zone);
    json["to"] = wall(span.to, zone);
    json["unrecorded_since"] =
        status.unrecorded_since ? wall(*status.unrecorded_since, view.wall_offset_ms, zone) : Json(nullptr);
    json["notices"] = Json::array();
    for (auto const& notice : past.notices) {
        auto const waiting = std::ranges::find_if(pending, [&](auto const& each) {
            return each.id == notice.id && each.channel == notice.channel;
        });
        json["notices"].push_back(
            notice_json(notice, waiting == pending.end() ? nullptr : &*waiting, view, zone));
    }
    json["channels"] = Json::array();
    for (auto const& channel : status.channels)
        json["channels"].push_back(channel_json(channel, past, view, zone));
    return web_json::text(json);
}

std::string outcome_json(Outcome const& outcome) {
    Json json{{"done", outcome.done}};
    json[outcome.done ? "text" : "error"] = outcome.text;
    return web_json::text(json);
}

std::string error_json(std::string const& text) {
    return web_json::text(Json{{"error", text}});
}

std::string session_json(Refusal const& refusal, std::optional<WallMs> guest_until, TimeZone const& zone) {
    auto json = head();
    json["guest_until"] = wall(guest_until, zone);
    json["changes"] = refusal.status == 0 ? "allowed" : refusal.status == 401 ? "token" : "never";
    json["why"] = refusal.status == 0 ? Json(nullptr) : Json(refusal.text);
    return web_json::text(json);
}

std::string name_of_subject(Subject subject, Settings const& settings) {
    auto const name_at = [&](auto const& items) {
        auto const place = static_cast<std::size_t>(subject.number);
        return place < items.size() ? items[place].name : std::string("?");
    };
    switch (subject.kind) {
        case SubjectKind::kitchen:
            return "kitchen";
        case SubjectKind::probe:
            return name_at(settings.probes);
        case SubjectKind::vessel:
            return name_at(settings.vessels);
        case SubjectKind::dish:
            return name_at(settings.dishes);
    }
    return "?";
}

std::string event_text(Effect const& effect, Settings const& settings, std::optional<std::int64_t> offset_ms,
                       TimeZone const& zone) {
    std::string name;
    Json json;
    if (auto const* reading = std::get_if<Recorded>(&effect)) {
        bool const usable = reading->quality == Quality::good || reading->quality == Quality::doubtful;
        name = "reading";
        json["probe"] = name_of_subject({SubjectKind::probe, reading->probe}, settings);
        json["at"] = wall(reading->at, offset_ms, zone);
        json["boot_s"] = number(seconds(reading->at.time_since_epoch()));
        json["celsius"] = usable ? number(reading->celsius) : Json(nullptr);
        json["quality"] = web_json::word(reading->quality);
        json["reason"] = reading->fault ? Json(reading->fault->reason) : Json(nullptr);
    } else if (auto const* changed = std::get_if<AlarmChanged>(&effect)) {
        name = "alarm";
        json = web_json::alarm(changed->alarm, name_of_subject(changed->alarm.subject, settings), changed->at,
                               offset_ms, zone);
        json["change"] = web_json::word(changed->transition);
    } else if (auto const* event = std::get_if<Event>(&effect)) {
        name = "event";
        json = {{"event", event->name}, {"subject", name_of_subject(event->subject, settings)}};
        json["at"] = wall(event->at, offset_ms, zone);
        json["boot_s"] = number(seconds(event->at.time_since_epoch()));
        json["text"] = event->text;
        json["numbers"] = numbers_json(event->numbers);
    } else if (auto const* forecast = std::get_if<Forecast>(&effect)) {
        name = "forecast";
        json = web_json::forecast(*forecast, forecast->at);
        json["subject"] = name_of_subject(forecast->subject, settings);
        json["at"] = wall(forecast->at, offset_ms, zone);
    } else {
        return {};
    }
    return "event: " + name + "\ndata: " + web_json::text(json) + "\n\n";
}

}  // namespace ingle
