#include <algorithm>

#include "daemon/web/json.hpp"
#include "daemon/web/json_parts.hpp"
#include "daemon/web/sentences.hpp"

namespace ingle {
namespace web_json {
namespace {

// Why there is no value now, in words. A value that is not fresh is not shown as one.
std::string why_no_value(ProbeView const& probe) {
    if (probe.fault) return probe.fault->reason;
    if (!probe.age) return "no reading yet";
    return "the last reading is " + show(Duration{seconds(*probe.age)}) + " old";
}

Json value_now(ProbeView const* probe) {
    Json json;
    if (!probe) {
        json["celsius"] = nullptr;
        json["age_s"] = nullptr;
        json["reason"] = "no probe";
        json["last"] = nullptr;
        return json;
    }
    bool const usable = probe->fresh && probe->celsius.has_value();
    json["celsius"] = usable ? number(probe->celsius) : Json(nullptr);
    json["age_s"] = usable && probe->age ? number(seconds(*probe->age)) : Json(nullptr);
    json["reason"] = usable ? Json(nullptr) : Json(why_no_value(*probe));
    json["last"] = probe->celsius && probe->age
                       ? Json{{"celsius", number(probe->celsius)}, {"age_s", number(seconds(*probe->age))}}
                       : Json(nullptr);
    return json;
}

ProbeView const* probe_at(View const& view, int number) {
    auto const place = static_cast<std::size_t>(number);
    return number >= 0 && place < view.probes.size() ? &view.probes[place] : nullptr;
}

Json name_of(ProbeView const* probe) {
    return probe ? Json(probe->name) : Json(nullptr);
}

// What the driver gave last, before calibration: {"celsius", "age_s", "word", "cold_junction_c", "reason"}.
Json raw_json(Reading const& newest, Instant now) {
    Json json{{"celsius", newest.ok() ? number(newest.celsius()) : Json(nullptr)},
              {"age_s", number(seconds(now - newest.at))}};
    json["word"] = newest.word ? Json(*newest.word) : Json(nullptr);
    json["cold_junction_c"] = number(newest.cold_junction);
    json["reason"] = newest.ok() ? Json(nullptr) : Json(newest.fault().reason);
    return json;
}

Json probe_json(ProbeView const& probe, View const& view, Status const& status, Settings const& settings) {
    Json json{{"name", probe.name}, {"driver", probe.driver}};
    json.update(value_now(&probe));
    json["fresh"] = probe.fresh;
    json["quality"] = word(probe.quality);
    json["fault"] = fault(probe.fault);
    json["slope_k_per_min"] = number(probe.slope_k_per_min);
    json["noise_k"] = number(probe.noise_k);
    json["cold_junction_c"] = number(probe.cold_junction);
    auto const place = static_cast<std::size_t>(probe.number);
    json["every_s"] =
        place < settings.probes.size() ? number(settings.probes[place].every.seconds) : Json(nullptr);
    if (place < status.probes.size()) {
        auto const& counts = status.probes[place];
        json["readings"] = counts.readings;
        json["faults"] = counts.faults;
        json["trouble"] = counts.trouble.empty() ? Json(nullptr) : Json(counts.trouble);
        json["raw"] = counts.newest ? raw_json(*counts.newest, view.at) : Json(nullptr);
    }
    json["calibration"] = Json::array();
    for (auto const& point : probe.calibration)
        json["calibration"].push_back(
            {{"reads_c", number(point.reads.celsius)}, {"is_c", number(point.is.celsius)}});
    return json;
}

// The temperature that the forecast of a vessel is about; empty: it does not say which edge of the band.
std::optional<double> level_ahead(VesselView const& vessel) {
    auto const& forecast = *vessel.forecast;
    if (forecast.what == "boiling") return vessel.boiling_c;
    if (!vessel.band || forecast.direction == 0) return {};
    return forecast.direction > 0 ? vessel.band->high.celsius : vessel.band->low.celsius;
}

Json vessel_json(VesselView const& vessel, View const& view) {
    auto const* probe = probe_at(view, vessel.probe);
    Json json{{"name", vessel.name}, {"kind", word(vessel.kind)}, {"probe", name_of(probe)}};
    json.update(value_now(probe));
    json["band"] = band(vessel.band);
    json["phase"] = vessel.phase;
    json["slope_k_per_min"] = probe && probe->fresh ? number(probe->slope_k_per_min) : Json(nullptr);
    json["forecast"] = forecast(vessel.forecast, view.at);
    if (vessel.forecast) json["forecast"]["level_c"] = number(level_ahead(vessel));
    json["advice"] = vessel.advice;
    json["sentence"] = vessel_sentence(vessel, probe, view.units, view.at);
    if (auto const& shown = vessel.response; shown.any())
        json["response"] = {{"time_constant_s", number(shown.time_constant_s)},
                            {"settling_s", number(shown.settling_s())},
                            {"lag_s", number(shown.lag_s)},
                            {"turn_c", number(shown.turn_k)},
                            {"recovery_s", number(shown.recovery_s)},
                            {"turns", shown.turns},
                            {"doors", shown.doors}};
    json["boiling_c"] = number(vessel.boiling_c);
    return json;
}

// `serve_at`: ms since 1970; of the kitchen file, or what was said since.
Json dish_json(DishView const& dish, std::optional<std::int64_t> serve_at, View const& view,
               TimeZone const& zone) {
    auto const* core = probe_at(view, dish.core);
    auto const place = static_cast<std::size_t>(dish.vessel);
    Json json{{"name", dish.name}, {"food", dish.food}};
    json["vessel"] =
        dish.vessel >= 0 && place < view.vessels.size() ? Json(view.vessels[place].name) : Json(nullptr);
    json["begun"] = dish.begun;
    json["cook"] = dish.cook > 0 ? Json(dish.cook) : Json(nullptr);
    json["began"] = dish.began ? wall(*dish.began, view.wall_offset_ms, zone) : Json(nullptr);
    json["began_age_s"] = dish.began ? number(seconds(view.at - *dish.began)) : Json(nullptr);
    json["stage"] = dish.stage.empty() ? Json(nullptr) : Json(dish.stage);
    json["stage_number"] = dish.stage_began ? Json(dish.stage_number + 1) : Json(nullptr);
    json["stage_age_s"] = dish.stage_began ? number(seconds(view.at - *dish.stage_began)) : Json(nullptr);
    json["stage_left_s"] = dish.clock.left ? number(seconds(*dish.clock.left)) : Json(nullptr);
    json["stage_counted_by"] = dish.counted_by.empty() ? Json(nullptr) : Json(dish.counted_by);
    json["stage_clock"] = dish.clock.state.empty() ? Json(nullptr) : Json(dish.clock.state);
    Json core_json{{"probe", name_of(core)}};
    core_json.update(value_now(core));
    json["core"] = std::move(core_json);
    json["peak_c"] = number(dish.peak_c);
    json["target_c"] = number(dish.target_c);
    json["core_c"] = number(dish.core_c);
    json["medium_c"] = number(dish.medium_c);
    json["core_reached"] = dish.core_reached;
    json["cooked"] = dish.cooked;
    json["serve_at"] = wall(serve_at, zone);
    json["order_age_s"] = dish.last_order ? number(seconds(view.at - *dish.last_order)) : Json(nullptr);
    json["undone"] = Json::array();
    for (auto const& one : dish.undone)
        json["undone"].push_back({{"stage", one.stage}, {"text", one.text}, {"core_c", number(one.core_c)}});
    json["forecast"] = forecast(dish.forecast, view.at);
    json["caution"] = dish.verdicts.empty() ? Json(nullptr) : Json(food_safety_caution);
    json["verdicts"] = Json::array();
    for (auto const& verdict : dish.verdicts) {
        json["verdicts"].push_back({{"rule", verdict.rule},
                                    {"answer", verdict.answer},
                                    {"text", verdict.text},
                                    {"source", verdict.source}});
    }
    return json;
}

Json reminder_json(ReminderView const& reminder, View const& view, TimeZone const& zone) {
    auto const& next = reminder.next;
    return {{"reminder", reminder.number},
            {"text", reminder.text},
            {"waits_for", reminder.waits_for},
            {"next", next ? wall(*next, view.wall_offset_ms, zone) : Json(nullptr)},
            {"left_s", next ? number(std::max(0.0, seconds(*next - view.at))) : Json(nullptr)},
            {"every_s", reminder.every ? number(seconds(*reminder.every)) : Json(nullptr)},
            {"due", reminder.due.has_value()}};
}

Json channel_json(ChannelStatus const& channel) {
    return {{"name", channel.name},
            {"kind", channel.kind},
            {"trouble", channel.trouble.empty() ? Json(nullptr) : Json(channel.trouble)},
            {"pending", channel.pending},
            {"delivered", channel.delivered},
            {"given_up", channel.given_up}};
}

Json daemon_json(View const& view, Status const& status, std::size_t pending) {
    Json json{{"version", status.version}, {"running_s", number(seconds(view.at - status.started))}};
    json["kitchen_file"] = status.kitchen_file.empty() ? Json(nullptr) : Json(status.kitchen_file);
    json["zone"] = status.zone.empty() ? Json(nullptr) : Json(status.zone);
    json["recording"] = status.recording;
    json["recording_trouble"] =
        status.recording_trouble.empty() ? Json(nullptr) : Json(status.recording_trouble);
    json["past_known"] = status.past_known;
    json["clock_proven"] = status.clock_proven;
    json["committed_age_s"] = status.committed ? number(seconds(view.at - *status.committed)) : Json(nullptr);
    json["readings_waiting"] = status.waiting;
    json["readings_lost"] = status.lost;
    json["logbook_bytes"] = status.logbook_bytes;
    json["notices_pending"] = pending;
    json["channels"] = Json::array();
    for (auto const& channel : status.channels) json["channels"].push_back(channel_json(channel));
    return json;
}

// What is not vouched for may be hours off, and is not called known.
char const* clock_word(View const& view, Status const& status) {
    return !view.wall_offset_ms ? "unknown" : status.clock_proven ? "known" : "unverified";
}

}  // namespace

Json now(View const& view, Status const& status, Settings const& settings,
         std::vector<PendingNotice> const& pending, TimeZone const& zone) {
    Json json{{"api_version", api_version}, {"kitchen", view.kitchen}, {"units", unit_name(view.units)}};
    json["at"] = wall(view.at, view.wall_offset_ms, zone);
    json["clock"] = clock_word(view, status);
    json["boot_s"] = number(seconds(view.at.time_since_epoch()));
    json["probes"] = Json::array();
    for (auto const& probe : view.probes) json["probes"].push_back(probe_json(probe, view, status, settings));
    json["vessels"] = Json::array();
    for (auto const& vessel : view.vessels) json["vessels"].push_back(vessel_json(vessel, view));
    json["dishes"] = Json::array();
    for (auto const& dish : view.dishes) {
        auto const place = static_cast<std::size_t>(dish.number);
        bool const known = dish.number >= 0 && place < settings.dishes.size();
        json["dishes"].push_back(
            dish_json(dish, known ? settings.dishes[place].serve_at : std::nullopt, view, zone));
    }
    json["timers"] = Json::array();
    for (auto const& timer : view.timers) {
        json["timers"].push_back({{"timer", timer.number},
                                  {"text", timer.text},
                                  {"length_s", number(seconds(timer.length))},
                                  {"left_s", number(std::max(0.0, seconds(timer.ends - view.at)))},
                                  {"ends", wall(timer.ends, view.wall_offset_ms, zone)},
                                  {"over", timer.over}});
    }
    json["reminders"] = Json::array();
    for (auto const& reminder : view.reminders)
        json["reminders"].push_back(reminder_json(reminder, view, zone));
    json["alarms"] = Json::array();
    for (auto const& item : view.alarms) {
        json["alarms"].push_back(
            alarm(item, subject_of(item.subject, view), view.at, view.wall_offset_ms, zone));
    }
    json["daemon"] = daemon_json(view, status, pending.size());
    return json;
}

}  // namespace web_json

std::string now_json(View const& view, Status const& status, Settings const& settings,
                     std::vector<PendingNotice> const& pending, TimeZone const& zone) {
    return web_json::text(web_json::now(view, status, settings, pending, zone));
}

std::string now_event(View const& view, Status const& status, Settings const& settings,
                      std::vector<PendingNotice> const& pending, TimeZone const& zone) {
    return "event: now\ndata: " + now_json(view, status, settings, pending, zone) + "\n\n";
}

std::string health_json(View const& view, Status const& status) {
    bool const damaged = std::ranges::any_of(
        view.alarms, [](Alarm const& one) { return one.active && one.type->name == "logbook-damaged"; });
    web_json::Json json{{"status", status.recording && !damaged ? "ok" : "degraded"}};
    json["api_version"] = api_version;
    json["recording"] = status.recording;
    json["clock"] = web_json::clock_word(view, status);
    json["probes"] = view.probes.size();
    json["probes_fresh"] = std::ranges::count_if(view.probes, &ProbeView::fresh);
    return web_json::text(json);
}

}  // namespace ingle
