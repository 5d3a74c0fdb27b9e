#include "daemon/web/json_parts.hpp"

#include <cmath>

namespace ingle::web_json {

Json number(double value) {
    if (!std::isfinite(value)) return nullptr;
    return std::round(value * 1e4) / 1e4 + 0.0;  // + 0.0: never "-0.0"
}

Json number(std::optional<double> value) {
    return value ? number(*value) : Json(nullptr);
}

Json wall(std::optional<WallMs> at, TimeZone const& zone) {
    return at ? Json(zone.iso(WallTime(std::chrono::milliseconds(*at)))) : Json(nullptr);
}

Json wall(Instant at, std::optional<std::int64_t> offset_ms, TimeZone const& zone) {
    if (!offset_ms) return nullptr;
    return wall(at.time_since_epoch().count() + *offset_ms, zone);
}

Json fault(std::optional<Fault> const& fault) {
    if (!fault) return nullptr;
    return {{"kind", to_word(fault->kind)}, {"reason", fault->reason}};
}

Json band(std::optional<Band> const& band) {
    if (!band) return nullptr;
    return {{"low_c", number(band->low.celsius)}, {"high_c", number(band->high.celsius)}};
}

Json forecast(std::optional<Forecast> const& forecast, Instant now) {
    if (!forecast) return nullptr;
    Json json{{"what", forecast->what},
              {"eta_s", number(forecast->eta_s)},
              {"low_s", number(forecast->low_s)},
              {"high_s", number(forecast->high_s)},
              {"confidence", number(forecast->confidence)},
              {"age_s", number(seconds(now - forecast->at))}};
    json["why"] = forecast->why;
    return json;
}

std::string_view word(Quality quality) {
    switch (quality) {
        case Quality::good:
            return "good";
        case Quality::doubtful:
            return "doubtful";
        case Quality::rejected:
            return "rejected";
        case Quality::faulty:
            return "faulty";
    }
    return "faulty";
}

std::string_view word(VesselKind kind) {
    switch (kind) {
        case VesselKind::pot:
            return "pot";
        case VesselKind::bath:
            return "bath";
        case VesselKind::smoker:
            return "smoker";
        case VesselKind::oven:
            return "oven";
        case VesselKind::fridge:
            return "fridge";
        case VesselKind::hot_box:
            return "hot-box";
        case VesselKind::room:
            return "room";
    }
    return "pot";
}

std::string_view word(Transition transition) {
    switch (transition) {
        case Transition::raised:
            return "raised";
        case Transition::worsened:
            return "worsened";
        case Transition::acknowledged:
            return "acknowledged";
        case Transition::cleared:
            return "cleared";
        case Transition::shelved:
            return "shelved";
        case Transition::unshelved:
            return "unshelved";
        case Transition::suppressed:
            return "suppressed";
        case Transition::unsuppressed:
            return "unsuppressed";
        case Transition::updated:
            return "updated";
    }
    return "updated";
}

Json alarm(Alarm const& alarm, std::string const& subject, Instant now, std::optional<std::int64_t> offset_ms,
           TimeZone const& zone) {
    Json json{{"id", alarm.id},
              {"alarm", alarm.type ? alarm.type->name : ""},
              {"subject", subject},
              {"subject_kind", to_word(alarm.subject.kind)},
              {"priority", to_word(alarm.priority)},
              {"state", to_word(alarm.state)},
              {"active", alarm.active},
              {"text", alarm.text},
              {"since", wall(alarm.since, offset_ms, zone)},
              {"age_s", number(seconds(now - alarm.since))}};
    json["cleared"] = alarm.cleared ? wall(*alarm.cleared, offset_ms, zone) : Json(nullptr);
    json["cleared_age_s"] = alarm.cleared ? number(seconds(now - *alarm.cleared)) : Json(nullptr);
    json["acknowledged"] = alarm.acknowledged ? wall(*alarm.acknowledged, offset_ms, zone) : Json(nullptr);
    json["acknowledged_by"] = alarm.acknowledged_by.empty() ? Json(nullptr) : Json(alarm.acknowledged_by);
    json["shelved_until"] = alarm.shelved_until ? wall(*alarm.shelved_until, offset_ms, zone) : Json(nullptr);
    json["shelved_for_s"] = alarm.shelved_until ? number(seconds(*alarm.shelved_until - now)) : Json(nullptr);
    json["muted_by"] = alarm.muted_by.empty() ? Json(nullptr) : Json(alarm.muted_by);
    json["action"] = alarm.action == Action::none ? Json(nullptr) : Json(to_word(alarm.action));
    json["worst"] = number(alarm.worst);
    json["spells"] = alarm.spells;
    json["good_news"] = alarm.type && alarm.type->good_news;
    return json;
}

std::string subject_of(Subject subject, View const& view) {
    auto const place = static_cast<std::size_t>(subject.number);
    switch (subject.kind) {
        case SubjectKind::kitchen:
            return "kitchen";
        case SubjectKind::probe:
            return place < view.probes.size() ? view.probes[place].name : "?";
        case SubjectKind::vessel:
            return place < view.vessels.size() ? view.vessels[place].name : "?";
        case SubjectKind::dish:
            return place < view.dishes.size() ? view.dishes[place].name : "?";
    }
    return "?";
}

std::string text(Json const& json) {
    // A reason or a note may hold bytes that are no UTF-8; that must not cost the whole answer.
    return json.dump(-1, ' ', false, Json::error_handler_t::replace);
}

}  // namespace ingle::web_json
