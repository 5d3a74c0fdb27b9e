// The record of a day as a sheet.
#include <algorithm>
#include <cmath>

#include "daemon/model/view.hpp"
#include "tools/cli/output/text.hpp"
#include "tools/cli/record/record_forms.hpp"
#include "tools/cli/time/local_time.hpp"

namespace ingle::cli {
namespace {

// Of a list of words, those that are there.
std::string joined(std::vector<std::string> const& parts, std::string const& by) {
    std::string all;
    for (auto const& part : parts)
        if (!part.empty()) all += (all.empty() ? "" : by) + part;
    return all;
}

class Sheet {
public:
    explicit Sheet(DayRecord const& record) : record_(record) {}

    Doc make() {
        doc_.one_sheet = true;
        doc_.title = "Daily record" + (record_.kitchen.empty() ? "" : ": " + record_.kitchen) + ", " +
                     record_.day.title;
        doc_.subtitle =
            "From midnight to " +
            (record_.day.over() ? std::string("midnight") : at(record_.day.until) + "; the day is not over") +
            ". What stands here was measured or noted; what was not is left blank.";
        auto& top = doc_.section("");
        top.add(Block::Kind::caution, record_caution());
        if (record_.readings == 0)
            top.say("No probe was read on this day where food was cooked, cooled or kept.");
        add_cooking();
        add_cooling();
        add_holding(true);
        add_holding(false);
        add_holes();
        add_calibrations();
        add_actions();
        add_notes();
        doc_.section("checked").say("by ______________________  on ______________________");
        return std::move(doc_);
    }

private:
    // By the clock; with its date where that is another day.
    std::string at(WallTime when) const {
        bool const today = when >= record_.day.span.from && when < record_.day.span.to;
        if (when == record_.day.span.to) return "midnight";
        return today ? time_text(when, false, false) : time_text(when, true, false);
    }
    std::string at(std::optional<WallTime> const& when) const { return when ? at(*when) : ""; }
    std::string degrees(double c) const { return show(Temperature{c}, record_.units); }
    std::string measured(std::optional<Measured> const& one) const {
        return one ? degrees(one->celsius) + " at " + at(one->at) : "";
    }
    static std::string length(std::optional<double> s) {
        return !s ? "" : *s < 0.5 ? "0 min" : length_text(*s);
    }
    static std::string dish(std::string const& name, std::int64_t cook) {
        return name + " " + std::to_string(cook);
    }
    // A section stands on the sheet though nothing is in it.
    Section& section(std::string const& title, bool empty) {
        auto& made = doc_.section(title);
        if (empty) made.say("None recorded.");
        return made;
    }

    void add_cooking() {
        auto& part = section("cooking", record_.cooking.empty());
        if (record_.cooking.empty()) return;
        auto& table =
            part.table({"dish", "from", "to", "probe", "highest core", "asked", "reached", "answer"});
        std::vector<std::string> rules;
        for (auto const& row : record_.cooking) {
            auto asked = row.asked_c ? degrees(*row.asked_c) : "";
            if (row.asked_hold_s.value_or(0) > 0) asked += " for " + length_text(*row.asked_hold_s);
            table.rows.push_back(
                {dish(row.dish, row.cook), at(row.began) + (row.clock_certain ? "" : " (clock uncertain)"),
                 at(row.ended), row.probe, measured(row.highest), std::move(asked),
                 (row.reached && !row.reached_seen ? "by " : "") + at(row.reached), row.answer});
            if (!row.rule.empty())
                rules.push_back((row.food.empty() ? row.dish : row.food) + ": " + row.rule);
        }
        say_rules(part, rules);
    }

    void add_cooling() {
        auto& part = section("cooling", record_.cooling.empty());
        if (record_.cooling.empty()) return;
        std::size_t steps = 0;
        CoolingEntry const* longest = nullptr;
        for (auto const& row : record_.cooling)
            if (row.steps.size() > steps) steps = row.steps.size(), longest = &row;
        std::vector<std::string> head{"dish", "probe", "began"};
        for (std::size_t i = 0; i < steps; ++i) {
            head.push_back("to " + degrees(longest->steps[i].limit_c));
            head.emplace_back("took");
        }
        auto& table = part.table(std::move(head));
        std::vector<std::string> rules;
        for (auto const& row : record_.cooling) {
            std::vector<std::string> cells{
                dish(row.dish, row.cook), row.probe,
                row.from ? joined({row.from_c ? degrees(*row.from_c) : "", at(row.from)}, " at ") : ""};
            for (auto const& step : row.steps) {
                cells.push_back(at(step.at));
                auto took = length(step.took_most_s);
                if (step.took_most_s && step.took_least_s && *step.took_most_s - *step.took_least_s > 60)
                    took = length(step.took_least_s) + " to " + took;
                if (step.allowed_s) took += (took.empty() ? "limit " : " of ") + length_text(*step.allowed_s);
                cells.push_back(joined({took, step.answer}, ", "));
            }
            cells.resize(3 + 2 * steps);
            table.rows.push_back(std::move(cells));
            rules.push_back(row.dish + ": " + row.rule);
        }
        say_rules(part, rules);
    }

    void add_holding(bool hot) {
        auto const wanted = [&](HoldingEntry const& row) { return row.hot == hot; };
        auto& part =
            section(hot ? "hot holding" : "cold holding", std::ranges::none_of(record_.holding, wanted));
        if (std::ranges::none_of(record_.holding, wanted)) return;
        auto& table = part.table(
            {"vessel or dish", "probe", "kept", "lowest", "highest", "out of its limit", "not read"});
        for (auto const& row : record_.holding) {
            if (row.hot != hot) continue;
            table.rows.push_back(
                {row.cook ? dish(row.name, *row.cook) : row.name, row.probe, length(row.held_s),
                 measured(row.lowest), measured(row.highest),
                 row.beyond_s ? length(row.beyond_s) + (hot ? " below " : " above ") + degrees(row.limit_c)
                              : "",
                 length(row.unread_s)});
        }
    }

    void add_holes() {
        auto& part = section("not read", record_.holes.empty());
        if (record_.holes.empty()) return;
        auto& table = part.table({"probe", "from", "to", "for", "because"});
        for (auto const& hole : record_.holes)
            table.rows.push_back(
                {hole.probe, at(hole.from), at(hole.to), length(seconds(hole.to - hole.from)), hole.reason});
    }

    void add_calibrations() {
        auto& part = section("calibration of probes", record_.calibrations.empty());
        if (record_.calibrations.empty()) return;
        auto& table = part.table({"probe", "since", "read, was, offset", "by"});
        for (auto const& one : record_.calibrations) {
            std::vector<std::string> points;
            for (auto const& [reads, is] : one.points)
                points.push_back("read " + degrees(reads) + ", was " + degrees(is) + ", " +
                                 (is > reads ? "+" : "") +
                                 show(TemperatureDifference{is - reads}, record_.units, 2));
            table.rows.push_back(
                {one.probe, at(one.since), points.empty() ? "taken away" : joined(points, "; "), ""});
        }
    }

    void add_actions() {
        auto& part = section("corrective actions", record_.actions.empty());
        if (record_.actions.empty()) return;
        auto& table = part.table({"raised", "alarm", "of", "priority", "done, by whom and when", "over"});
        for (auto const& row : record_.actions) {
            std::vector<std::string> acts;
            for (auto const& act : row.acts)
                acts.push_back(act.what + (act.by.empty() ? "" : " by " + act.by) + " at " + at(act.at));
            table.rows.push_back(
                {at(row.raised), row.name, row.subject, row.priority, joined(acts, "; "), at(row.cleared)});
            table.details.push_back(row.text);
        }
    }

    void add_notes() {
        auto& part = section("notes", record_.notes.empty());
        if (record_.notes.empty()) return;
        auto& table = part.table({"at", "of", "note", "by"});
        for (auto const& note : record_.notes)
            table.rows.push_back({at(note.at), note.subject, note.text, ""});
    }

    static void say_rules(Section& part, std::vector<std::string> rules) {
        std::ranges::sort(rules);
        rules.erase(std::unique(rules.begin(), rules.end()), rules.end());
        if (!rules.empty()) part.say("By: " + joined(rules, "; ") + ".");
    }

    DayRecord const& record_;
    Doc doc_;
};

}  // namespace

std::string record_caution() {
    return std::string(food_safety_caution) + " Guidance for the record that a kitchen keeps.";
}

Doc record_doc(DayRecord const& record) {
    return Sheet(record).make();
}

}  // namespace ingle::cli
