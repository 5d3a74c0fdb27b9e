#include "daemon/notices/mqtt/state.hpp"

#include <cmath>
#include <nlohmann/json.hpp>
#include <optional>

#include "config/civil_time/iso_time.hpp"

namespace ingle::mqtt {
namespace {

using Json = nlohmann::ordered_json;

Json text_or_null(std::string const& text) {
    return text.empty() ? Json(nullptr) : Json(text);
}

Json number(std::optional<double> value) {
    constexpr double hundredths = 100;
    return value ? Json(std::round(*value * hundredths) / hundredths) : Json(nullptr);
}

Json wall(std::optional<Instant> at, View const& view) {
    if (!at || !view.wall_offset_ms) return nullptr;
    return iso_time(WallTime(at->time_since_epoch() + std::chrono::milliseconds(*view.wall_offset_ms)));
}

ProbeView const* probe_at(View const& view, int number) {
    auto const place = static_cast<std::size_t>(number);
    return number >= 0 && place < view.probes.size() ? &view.probes[place] : nullptr;
}

// What is read, with the time of its reading; what is not fresh is not said as a value.
void add_reading(Json& json, ProbeView const* probe, View const& view) {
    bool const usable = probe && probe->fresh && probe->celsius && probe->age;
    json["probe"] = probe ? Json(probe->name) : Json(nullptr);
    json["celsius"] = usable ? number(probe->celsius) : Json(nullptr);
    json["read_at"] = usable ? wall(view.at - *probe->age, view) : Json(nullptr);
    json["reason"] = usable                         ? Json(nullptr)
                     : !probe                       ? Json("no probe")
                     : probe->fault                 ? Json(probe->fault->reason)
                     : probe->celsius && probe->age ? Json("the last reading is too old")
                                                    : Json("no reading yet");
}

Topic topic_of(std::string name, Json json) {
    Topic topic{std::move(name), json.dump(-1, ' ', false, Json::error_handler_t::replace), {}, true};
    bool const read = !json["celsius"].is_null(), dated = !json["read_at"].is_null();
    topic.kept = !read || dated;
    json["celsius"] = read;
    json["read_at"] = dated;
    topic.standing = json.dump(-1, ' ', false, Json::error_handler_t::replace);
    return topic;
}

std::string name_of(Subject const& subject, View const& view) {
    auto const at = static_cast<std::size_t>(subject.number);
    switch (subject.kind) {
        case SubjectKind::probe:
            return at < view.probes.size() ? view.probes[at].name : "";
        case SubjectKind::vessel:
            return at < view.vessels.size() ? view.vessels[at].name : "";
        case SubjectKind::dish:
            return at < view.dishes.size() ? view.dishes[at].name : "";
        case SubjectKind::kitchen:
            break;
    }
    return view.kitchen;
}

Json alarm_of(Alarm const& alarm, View const& view) {
    return {{"id", alarm.id},
            {"alarm", alarm.type ? alarm.type->name : ""},
            {"subject_kind", to_word(alarm.subject.kind)},
            {"subject", name_of(alarm.subject, view)},
            {"priority", to_word(alarm.priority)},
            {"state", to_word(alarm.state)},
            {"active", alarm.active},
            {"since", wall(alarm.since, view)},
            {"acknowledged_by", text_or_null(alarm.acknowledged_by)},
            {"shelved_until", wall(alarm.shelved_until, view)},
            {"text", alarm.text}};
}

}  // namespace

std::vector<Topic> topics_of(View const& view) {
    std::vector<Topic> topics;
    for (auto const& vessel : view.vessels) {
        Json json{{"kitchen", view.kitchen}, {"vessel", vessel.name}};
        add_reading(json, probe_at(view, vessel.probe), view);
        json["band"] = vessel.band ? Json{{"low_c", number(vessel.band->low.celsius)},
                                          {"high_c", number(vessel.band->high.celsius)}}
                                   : Json(nullptr);
        json["phase"] = vessel.phase;
        topics.push_back(topic_of("vessel/" + vessel.name, std::move(json)));
    }
    for (auto const& dish : view.dishes) {
        Json json{{"kitchen", view.kitchen}, {"dish", dish.name}};
        auto const vessel = static_cast<std::size_t>(dish.vessel);
        json["vessel"] = dish.vessel >= 0 && vessel < view.vessels.size() ? Json(view.vessels[vessel].name)
                                                                          : Json(nullptr);
        json["cooking"] = dish.begun;
        json["stage"] = text_or_null(dish.stage);
        add_reading(json, probe_at(view, dish.core), view);
        json["target_c"] = number(dish.target_c);
        topics.push_back(topic_of("dish/" + dish.name, std::move(json)));
    }
    Json alarms = Json::array();
    for (auto const& alarm : view.alarms) alarms.push_back(alarm_of(alarm, view));
    auto lasting = alarms;
    for (auto& alarm : lasting) alarm.erase("text");  // its numbers follow the readings
    auto standing = lasting.dump(-1, ' ', false, Json::error_handler_t::replace);
    Json json{{"kitchen", view.kitchen}, {"at", wall(view.at, view)}, {"alarms", std::move(alarms)}};
    topics.push_back({"alarms", json.dump(-1, ' ', false, Json::error_handler_t::replace),
                      std::move(standing), view.wall_offset_ms.has_value()});
    return topics;
}

bool is_of_kitchen(std::string const& payload, std::string const& kitchen) {
    auto const json = Json::parse(payload, nullptr, false);
    if (!json.is_object()) return false;
    auto const found = json.find("kitchen");
    return found != json.end() && found->is_string() && found->get<std::string>() == kitchen;
}

}  // namespace ingle::mqtt
