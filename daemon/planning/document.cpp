#include "daemon/planning/document.hpp"

#include <cmath>

#include <nlohmann/json.hpp>

namespace ingle::schedule {
namespace {

using Json = nlohmann::ordered_json;

Json iso(TimeZone const& zone, std::optional<Seconds> t) {
    return t ? Json(zone.iso(WallTime(std::chrono::seconds(*t)), "+00:00")) : Json(nullptr);
}

Json whole(double seconds) {
    return static_cast<std::int64_t>(std::llround(seconds));
}

Json stage_json(StagePlan const& stage, bool served, Settings const& settings, TimeZone const& zone) {
    bool const known = stage.length.known;
    return {
        {"stage", stage.stage},
        {"vessel", stage.vessel < 0 ? Json(nullptr)
                                    : Json(settings.vessels[static_cast<std::size_t>(stage.vessel)].name)},
        {"begin", iso(zone, stage.begin)},
        {"end", iso(zone, stage.end)},
        {"latest_begin", served ? iso(zone, stage.latest_begin) : Json(nullptr)},
        {"length_s", known ? whole(stage.length.likely) : Json(nullptr)},
        {"low_s", known ? whole(stage.length.low) : Json(nullptr)},
        {"high_s", known ? whole(stage.length.high) : Json(nullptr)},
        {"hands_s", stage.hands},
        {"began", stage.began},
        {"source", stage.length.source}};
}

Json dish_json(DishPlan const& dish, Settings const& settings, TimeZone const& zone) {
    Json json{{"dish", settings.dishes[static_cast<std::size_t>(dish.dish)].name},
              {"serve_at", iso(zone, dish.serve_at)},
              {"ready_at", iso(zone, dish.ready_at)},
              {"ready_early_at", iso(zone, dish.ready_early)},
              {"ready_late_at", iso(zone, dish.ready_late)},
              {"chance", dish.chance ? Json(std::round(*dish.chance * 100) / 100) : Json(nullptr)},
              {"state", to_word(dish.state)},
              {"stages", Json::array()},
              {"advice", dish.advice},
              {"notes", dish.notes}};
    for (auto const& stage : dish.stages)
        json["stages"].push_back(stage_json(stage, dish.serve_at.has_value(), settings, zone));
    return json;
}

Json conflict_json(Conflict const& conflict, Settings const& settings, TimeZone const& zone) {
    Json json = Json::object();
    if (conflict.about == About::vessel)
        json["vessel"] = settings.vessels[static_cast<std::size_t>(conflict.vessel)].name;
    else
        json[conflict.about == About::hands ? "hands" : "rule"] = conflict.text;
    json["dishes"] = Json::array();
    for (int const dish : conflict.dishes)
        json["dishes"].push_back(settings.dishes[static_cast<std::size_t>(dish)].name);
    json["from"] = iso(zone, conflict.when.from), json["to"] = iso(zone, conflict.when.to);
    json["text"] = conflict.text;
    json["remedies"] = conflict.remedies;
    return json;
}

}  // namespace

std::string schedule_document(Schedule const& schedule, Settings const& settings, TimeZone const& zone) {
    Json json{{"at", iso(zone, schedule.at)},
              {"fits", schedule.fits},
              {"dishes", Json::array()},
              {"conflicts", Json::array()},
              {"left_out", Json::array()}};
    for (auto const& dish : schedule.dishes) json["dishes"].push_back(dish_json(dish, settings, zone));
    for (auto const& conflict : schedule.conflicts)
        json["conflicts"].push_back(conflict_json(conflict, settings, zone));
    for (auto const& left : schedule.left_out)
        json["left_out"].push_back(
            {{"dish", settings.dishes[static_cast<std::size_t>(left.dish)].name}, {"why", left.why}});
    return json.dump(2, ' ', false, Json::error_handler_t::replace) + "\n";
}

}  // namespace ingle::schedule
