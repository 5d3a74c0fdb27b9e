#include "daemon/notices/notice.hpp"

#include <nlohmann/json.hpp>
#include <utility>

namespace ingle {
namespace {

using Json = nlohmann::ordered_json;

Json or_null(std::optional<std::string> const& text) {
    return text ? Json(*text) : Json(nullptr);
}

std::optional<std::string> text_or_none(Json const& json, char const* key) {
    auto const found = json.find(key);
    if (found == json.end() || !found->is_string()) return std::nullopt;
    return found->get<std::string>();
}

Json told_json(Notice const& notice) {
    return {{"id", notice.id},           {"kind", notice.kind},         {"alarm", notice.alarm},
            {"subject", notice.subject}, {"priority", notice.priority}, {"since", or_null(notice.since)},
            {"at", or_null(notice.at)},  {"late", notice.late},         {"text", notice.text}};
}

// A stray byte in a name must not keep an alarm at home.
std::string dumped(Json const& json) {
    return json.dump(-1, ' ', false, Json::error_handler_t::replace);
}

Json json_of(NoticePart const& part) {
    return {{"number", part.number},     {"alarm", part.alarm},          {"subject", part.subject},
            {"priority", part.priority}, {"since", or_null(part.since)}, {"text", part.text}};
}

NoticePart part_of(Json const& json) {
    NoticePart part;
    if (auto const number = json.find("number"); number != json.end() && number->is_number_integer())
        part.number = *number;
    part.alarm = text_or_none(json, "alarm").value_or("");
    part.subject = text_or_none(json, "subject").value_or("");
    part.priority = text_or_none(json, "priority").value_or("");
    part.since = text_or_none(json, "since");
    part.text = text_or_none(json, "text").value_or("");
    return part;
}

}  // namespace

std::size_t level_of(std::string_view priority) {
    return priority == "high" ? 0 : priority == "medium" ? 1 : 2;
}

std::string to_json(Notice const& notice) {
    auto body = told_json(notice);
    auto const& links = notice.links;
    for (auto const& [name, link] :
         {std::pair{"page", &links.page}, {"acknowledge", &links.acknowledge}, {"shelve", &links.shelve}})
        if (!link->empty()) body["links"][name] = *link;
    return dumped(body);
}

std::string stored_json(Notice const& notice) {
    auto body = told_json(notice);
    if (!notice.link_alarms.empty()) body["alarms"] = notice.link_alarms;
    if (notice.asked_for) body["asked-for"] = true;
    for (auto const& part : notice.parts) body["parts"].push_back(json_of(part));
    return dumped(body);
}

std::optional<Notice> notice_from_json(std::string_view text) {
    auto const json = Json::parse(text, nullptr, false);
    if (!json.is_object()) return std::nullopt;
    auto const id = text_or_none(json, "id");
    if (!id) return std::nullopt;
    Notice notice;
    notice.id = *id;
    notice.kind = text_or_none(json, "kind").value_or("raised");
    notice.alarm = text_or_none(json, "alarm").value_or("");
    notice.subject = text_or_none(json, "subject").value_or("");
    notice.priority = text_or_none(json, "priority").value_or("");
    notice.since = text_or_none(json, "since");
    notice.at = text_or_none(json, "at");
    notice.text = text_or_none(json, "text").value_or("");
    if (auto const late = json.find("late"); late != json.end() && late->is_boolean()) notice.late = *late;
    if (auto const asked = json.find("asked-for"); asked != json.end() && asked->is_boolean())
        notice.asked_for = *asked;
    if (auto const alarms = json.find("alarms"); alarms != json.end() && alarms->is_array())
        for (auto const& alarm : *alarms)
            if (alarm.is_number_integer()) notice.link_alarms.push_back(alarm);
    if (auto const parts = json.find("parts"); parts != json.end() && parts->is_array())
        for (auto const& part : *parts)
            if (part.is_object()) notice.parts.push_back(part_of(part));
    return notice;
}

}  // namespace ingle
