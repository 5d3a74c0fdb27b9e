// The record of a day as JSON.
#include "tools/cli/record/record_forms.hpp"
#include "tools/cli/time/local_time.hpp"

namespace ingle::cli {
namespace {

Json number(std::optional<double> const& value) {
    return value ? Json(*value) : Json(nullptr);
}
Json when(std::optional<WallTime> const& at) {
    return at ? Json(local_iso(*at)) : Json(nullptr);
}
Json text(std::string const& words) {
    return words.empty() ? Json(nullptr) : Json(words);
}
Json measured(std::optional<Measured> const& one) {
    return one ? Json{{"celsius", one->celsius}, {"at", local_iso(one->at)}} : Json(nullptr);
}

Json json_of(CookingEntry const& row) {
    return {{"dish", row.dish},
            {"cook", row.cook},
            {"food", text(row.food)},
            {"began", local_iso(row.began)},
            {"clock_certain", row.clock_certain},
            {"ended", when(row.ended)},
            {"probe", text(row.probe)},
            {"highest", measured(row.highest)},
            {"asked_c", number(row.asked_c)},
            {"asked_hold_s", number(row.asked_hold_s)},
            {"reached", when(row.reached)},
            {"answer", text(row.answer)},
            {"source", text(row.rule)}};
}

Json json_of(CoolingEntry const& row) {
    Json steps = Json::array();
    for (auto const& step : row.steps)
        steps.push_back({{"limit_c", step.limit_c},
                         {"at", when(step.at)},
                         {"took_least_s", number(step.took_least_s)},
                         {"took_most_s", number(step.took_most_s)},
                         {"allowed_s", number(step.allowed_s)},
                         {"answer", text(step.answer)}});
    return {{"dish", row.dish},
            {"cook", row.cook},
            {"probe", text(row.probe)},
            {"rule", row.rule},
            {"from_c", number(row.from_c)},
            {"from", when(row.from)},
            {"limits", std::move(steps)}};
}

Json json_of(HoldingEntry const& row) {
    return {{row.dish ? "dish" : "vessel", row.name},
            {"cook", row.cook ? Json(*row.cook) : Json(nullptr)},
            {"probe", text(row.probe)},
            {"limit_c", row.limit_c},
            {"lowest", measured(row.lowest)},
            {"highest", measured(row.highest)},
            {"kept_s", row.held_s},
            {"beyond_s", number(row.beyond_s)},
            {"not_read_s", number(row.unread_s)}};
}

Json json_of(CalibrationEntry const& one) {
    Json points = Json::array();
    for (auto const& [reads, is] : one.points) points.push_back({{"reads_c", reads}, {"is_c", is}});
    return {{"probe", one.probe},
            {"since", local_iso(one.since)},
            {"points", std::move(points)},
            {"by", nullptr}};
}

Json json_of(ActionEntry const& row) {
    Json acts = Json::array();
    for (auto const& act : row.acts)
        acts.push_back({{"what", act.what}, {"by", text(act.by)}, {"at", local_iso(act.at)}});
    return {{"id", row.alarm},
            {"alarm", row.name},
            {"subject", row.subject},
            {"priority", row.priority},
            {"raised", local_iso(row.raised)},
            {"text", row.text},
            {"acts", std::move(acts)},
            {"cleared", when(row.cleared)}};
}

Json json_of(ProbeHole const& hole) {
    return {{"probe", hole.probe},
            {"from", local_iso(hole.from)},
            {"to", local_iso(hole.to)},
            {"reason", hole.reason}};
}

Json json_of(NoteEntry const& note) {
    return {
        {"at", local_iso(note.at)}, {"subject", text(note.subject)}, {"text", note.text}, {"by", nullptr}};
}

template <class Rows>
Json list(Rows const& rows) {
    Json all = Json::array();
    for (auto const& row : rows) all.push_back(json_of(row));
    return all;
}

}  // namespace

Json record_json(DayRecord const& record) {
    Json hot = Json::array(), cold = Json::array();
    for (auto const& row : record.holding) (row.hot ? hot : cold).push_back(json_of(row));
    return {{"kitchen", text(record.kitchen)},
            {"day", record.day.title.substr(4)},
            {"from", local_iso(record.day.span.from)},
            {"to", local_iso(record.day.until)},
            {"over", record.day.over()},
            {"caution", record_caution()},
            {"readings", record.readings},
            {"cooking", list(record.cooking)},
            {"cooling", list(record.cooling)},
            {"hot_holding", std::move(hot)},
            {"cold_holding", std::move(cold)},
            {"not_read", list(record.holes)},
            {"calibrations", list(record.calibrations)},
            {"corrective_actions", list(record.actions)},
            {"notes", list(record.notes)}};
}

}  // namespace ingle::cli
