// A review as JSON: the same facts; seconds since the cook began, temperatures in degC.
#include <cmath>

#include "tools/cli/review/review_doc.hpp"
#include "tools/cli/time/local_time.hpp"

namespace ingle::cli {
namespace {

Json maybe(std::optional<double> value) {
    return value && std::isfinite(*value) ? Json(*value) : Json(nullptr);
}

Json json_of(BandFacts const& band, CookRecord const& record) {
    Json excursions = Json::array();
    for (auto const& one : band.excursions)
        excursions.push_back({{"from_s", one.from},
                              {"to_s", one.to},
                              {"side", one.above ? "above" : "below"},
                              {"depth_k", one.depth_k},
                              {"area_k_min", one.area_k_min},
                              {"cut_by_gap", one.cut}});
    return {{"stage", record.stages[band.stage].name},
            {"vessel", band.vessel},
            {"low_c", band.band.low.celsius},
            {"high_c", band.band.high.celsius},
            {"from_s", band.from},
            {"to_s", band.to},
            {"reached_s", maybe(band.reached_s)},
            {"in_s", band.in_s},
            {"above_s", band.above_s},
            {"below_s", band.below_s},
            {"no_data_s", band.without_s},
            {"share", maybe(band.share())},
            {"worst_share", maybe(band.worst_share())},
            {"min_c", maybe(band.min_c)},
            {"mean_c", maybe(band.mean_c)},
            {"max_c", maybe(band.max_c)},
            {"deviation_k", maybe(band.deviation_k)},
            {"excursions", std::move(excursions)}};
}

Json json_of(Crossing const& crossing) {
    Json json{{"t", crossing.t}, {"seen", crossing.seen}};
    if (!crossing.seen) return json;
    json["level_c"] = crossing.level_c;
    json["before"] = {{"t", crossing.before.t}, {"celsius", crossing.before.celsius}};
    json["after"] = {{"t", crossing.after.t}, {"celsius", crossing.after.celsius}};
    return json;
}

Json json_of(FoodSpells const& spells) {
    Json measured = Json::array(), unseen = Json::array();
    for (auto const& one : spells.measured)
        measured.push_back({{"from", json_of(one.begin)},
                            {"to", json_of(one.end)},
                            {"seconds", one.seconds()},
                            {"stage", one.stage}});
    for (auto const& one : spells.unseen)
        unseen.push_back({{"from_s", one.from}, {"to_s", one.to}, {"possible_s", maybe(one.possible_s)}});
    return {{"measured_s", spells.measured_s()},
            {"possible_s", maybe(spells.possible_s())},
            {"measured", std::move(measured)},
            {"unseen", std::move(unseen)}};
}

Json json_of(CoreFacts const& core) {
    Json json{{"probe", core.probe},
              {"seen", core.seen},
              {"not_its_own", core.not_its_own},
              {"withdrawn_s", maybe(core.withdrawn_at)}};
    if (!core.seen) return json;
    json["peak"] = {{"t", core.peak.t}, {"celsius", core.peak.celsius}};
    json["reached"] = core.reached ? json_of(*core.reached) : Json(nullptr);
    json["at_target"] = json_of(core.at_target);
    json["come_up"] = json_of(core.come_up);
    json["danger"] = json_of(core.danger);
    json["held_wrong"] = json_of(core.held_wrong);
    json["log10"] = maybe(core.log10);
    Json table = Json::array(), pieces = Json::array(), cooling = Json::array();
    for (auto const& row : core.table)
        table.push_back({{"degF", row.fahrenheit},
                         {"seconds", row.seconds},
                         {"asked_s", row.asked.seconds()},
                         {"rate_s", row.rate_s},
                         {"log10", row.log10}});
    for (auto const& piece : core.pieces)
        pieces.push_back({{"t0", piece.begin.t},
                          {"c0", piece.begin.celsius},
                          {"t1", piece.end.t},
                          {"c1", piece.end.celsius},
                          {"worth_s", piece.worth_s}});
    for (auto const& row : core.cooling)
        cooling.push_back({{"to", row.what},
                           {"at", json_of(row.at)},
                           {"passed", row.passed},
                           {"took_least_s", row.took_least_s},
                           {"took_most_s", maybe(row.took_most_s)},
                           {"allowed_s", row.allowed_s},
                           {"answer", row.answer}});
    json["table"] = std::move(table);
    json["pieces"] = std::move(pieces);
    json["lethal_s"] = core.lethal_s;
    json["cooling_from"] = core.cooling_from ? json_of(*core.cooling_from) : Json(nullptr);
    json["cooling"] = std::move(cooling);
    return json;
}

Json forecasts(ForecastFacts const& facts, CookRecord const& record) {
    Json warnings = Json::array(), core = Json::array(), scored = Json::array();
    auto const held = held_of(facts.scored);
    auto const& over_all = record.told_over_all;
    for (auto const& one : facts.scored)
        scored.push_back({{"share", one.share},
                          {"told_s", one.told_s},
                          {"left_s", one.left_s},
                          {"low_s", maybe(one.low_s)},
                          {"high_s", maybe(one.high_s)},
                          {"error", one.error()}});
    for (auto const& one : facts.warnings)
        warnings.push_back({{"t", one.at},
                            {"alarm", one.name},
                            {"subject", one.subject},
                            {"came_after_s", maybe(one.lead_s)}});
    for (auto const& one : facts.core)
        core.push_back({{"before_s", one.lead_s},
                        {"error_s", one.error_s},
                        {"low_s", maybe(one.low_s)},
                        {"high_s", maybe(one.high_s)}});
    return {
        {"warnings", std::move(warnings)},
        {"came", facts.came},
        {"unwarned", facts.unwarned},
        {"brier", maybe(facts.brier)},
        {"core_from", record.outlooks_from},
        {"core_reached_s", maybe(facts.core_reached_s)},
        {"core_came_unseen", facts.core_came_unseen},
        {"core_intervals", held.intervals},
        {"core_intervals_held", held.held},
        {"core_scored", std::move(scored)},
        {"over_all", {{"cooks", over_all.cooks}, {"intervals", over_all.intervals}, {"held", over_all.held}}},
        {"confidence", facts.confidence},
        {"core", std::move(core)}};
}

}  // namespace

Json review_json(CookRecord const& record, CookFacts const& facts) {
    Json json{{"cook", record.title},
              {"dish", record.dish.name},
              {"food", record.dish.food},
              {"kitchen", record.kitchen},
              {"began", local_iso(record.began)},
              {"clock_certain", record.clock_certain},
              {"length_s", record.length_s},
              {"over", record.over}};
    json["stages"] = Json::array();
    for (auto const& stage : record.stages)
        json["stages"].push_back({{"stage", stage.name},
                                  {"began_s", stage.began},
                                  {"ended_s", stage.ended},
                                  {"over", stage.over},
                                  {"left_early", stage.left_early},
                                  {"until_core_c", maybe(stage.until_core_c)},
                                  {"until_s", maybe(stage.until_s)},
                                  {"counted_s", maybe(stage.counted_s)},
                                  {"until_log10", maybe(stage.until_log10)},
                                  {"at_most_s", maybe(stage.at_most_s)}});
    json["planned_stages"] = record.planned_stages;
    json["bands"] = Json::array();
    for (auto const& band : facts.bands) json["bands"].push_back(json_of(band, record));
    json["doors"] = Json::array();
    for (auto const& door : facts.doors)
        json["doors"].push_back({{"t", door.at},
                                 {"vessel", door.vessel},
                                 {"depth_k", door.depth_k},
                                 {"open_s", door.open_s},
                                 {"recovery_s", maybe(door.recovery_s)},
                                 {"time_constant_s", maybe(door.time_constant_s)}});
    json["alarms"] = Json::array();
    for (auto const& alarm : facts.alarms) {
        Json worse = Json::array();
        for (auto const& one : alarm.worse)
            worse.push_back({{"t", one.at}, {"priority", one.priority}, {"text", one.text}});
        json["alarms"].push_back({{"t", alarm.raised},
                                  {"alarm", alarm.name},
                                  {"subject", alarm.subject},
                                  {"priority", alarm.priority},
                                  {"to_acknowledge_s", maybe(alarm.to_acknowledge_s())},
                                  {"cleared_s", maybe(alarm.cleared)},
                                  {"text", alarm.text},
                                  {"worse", std::move(worse)}});
    }
    json["gaps"] = Json::array();
    for (auto const& gap : facts.gaps)
        json["gaps"].push_back(
            {{"from_s", gap.from}, {"to_s", gap.to}, {"probe", gap.probe}, {"reason", gap.reason}});
    json["forecasts"] = forecasts(facts.forecasts, record);
    json["caution"] = facts.food.caution;
    json["verdicts"] = Json::array();
    for (auto const& verdict : facts.food.verdicts)
        json["verdicts"].push_back({{"rule", verdict.rule},
                                    {"answer", verdict.answer},
                                    {"text", verdict.text},
                                    {"source", verdict.source}});
    json["cores"] = Json::array();
    for (auto const& core : facts.food.cores) json["cores"].push_back(json_of(core));
    json["responses"] = Json::array();
    for (auto const& one : facts.responses)
        json["responses"].push_back({{"vessel", one.vessel},
                                     {"warm_s", maybe(one.warm_s)},
                                     {"rate_k_per_min", maybe(one.rate_k_per_min)},
                                     {"lag_s", maybe(one.lag_s)},
                                     {"settle_s", maybe(one.settle_s)},
                                     {"swing_k", maybe(one.swing_k)},
                                     {"period_s", maybe(one.period_s)},
                                     {"recovery_s", maybe(one.recovery_s)},
                                     {"time_constant_s", maybe(one.time_constant_s)}});
    json["next_time"] = facts.next_time;
    return json;
}

}  // namespace ingle::cli
