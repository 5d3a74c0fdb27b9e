// ingle explain food: the classes, the rules, the hazards and the sources, from the tables that the daemon
// judges by.
#include <algorithm>
#include <memory>
#include <ostream>

#include "daemon/food/classes.hpp"
#include "daemon/food/cooling.hpp"
#include "daemon/food/hazards.hpp"
#include "daemon/food/reheating.hpp"
#include "daemon/food/sources.hpp"
#include "tools/cli/calc/calc.hpp"
#include "tools/cli/calc/explain.hpp"
#include "tools/cli/output/text.hpp"
#include "tools/cli/time/local_time.hpp"

namespace ingle::cli {
namespace {

struct Options {
    std::string food, units;
    bool json = false;
};

class Explanation {
public:
    Explanation(TemperatureUnit unit, std::size_t width) : unit_(unit), width_(width) {}

    std::string degrees(double c) const { return show(Temperature{c}, unit_); }
    void head(std::string const& text) { out_ += (out_.empty() ? "" : "\n") + text + "\n"; }
    void line(std::string const& text) { out_ += wrapped(text, width_, "  ") + "\n"; }
    void more(std::string const& text) { out_ += wrapped(text, width_, "      ") + "\n"; }
    TemperatureUnit unit() const { return unit_; }
    std::string const& text() const { return out_; }

private:
    TemperatureUnit unit_;
    std::size_t width_;
    std::string out_;
};

std::string asked(Explanation const& page, CoreTarget const& target) {
    auto text = page.degrees(target.celsius());
    if (target.hold_s > 0)
        text += " for " + length_text(target.hold_s) + (target.rest ? ", the rest counts" : "");
    return text;
}

void explain_class(Explanation& page, FoodClass const& food) {
    page.head(std::string(food.name) + ": " + std::string(food.means));
    if (food.targets.empty()) page.line("no core temperature is asked for");
    for (auto const& target : food.targets)
        page.line("core " + asked(page, target) + " (" + std::string(target.source) + ")" +
                  (&target == food.targets.data() ? ", by which it is judged" : ""));
    for (auto const& target : food.hot_hold_targets)
        page.line("core " + asked(page, target) + " where it is to be kept hot (" +
                  std::string(target.source) + ")");
    if (food.model != LethalityModel::none)
        page.line("lethality: " + decimal_text(food.target_log10, 1) + " log10 by " +
                  std::string(food.lethality_source));
    if (!food.lethality_caution.empty()) page.more(std::string(food.lethality_caution));
    if (!food.caution.empty()) page.more(std::string(food.caution));
}

void explain_rules(Explanation& page) {
    page.head("rules for every perishable food; the first of each is the one it is judged by");
    for (auto const& zone : danger_zones())
        page.line("danger zone " + page.degrees(zone.low_c()) + " to " + page.degrees(zone.high_c()) + ", " +
                  length_text(zone.most_s) + " at most (" + std::string(zone.source) + ")");
    for (auto const& heating : heating_limits())
        page.line("while it is heated, " + length_text(heating.most_s) + " at most (" +
                  std::string(heating.source) + ")");
    for (auto const& limit : hot_hold_limits())
        page.line("kept hot at " + page.degrees(limit.celsius()) + " or above (" + std::string(limit.source) +
                  ")");
    for (auto const& limit : cold_hold_limits())
        page.line("kept cold at " + page.degrees(limit.celsius()) + " or below (" +
                  std::string(limit.source) + ")");
    page.line("above that for " + length_text(warm_most_s) + " at most (" + std::string(warm_most_source) +
              ")");
    page.line("made up from things at room temperature: " + std::string(made_warm_source));
    page.line("reheated: " + std::string(reheat_source));
    for (auto const& rule : cooling_rules()) {
        page.line("cooling, " + std::string(rule.word) + ": " + std::string(rule.summary) + " (" +
                  std::string(rule.source) + ")");
        if (rule.needs_cure) page.more("Only for food that is cured with nitrite.");
        if (!rule.replaced.empty()) page.more(std::string(rule.replaced));
    }
}

void explain_hazard(Explanation& page, Hazard const& hazard) {
    page.line(std::string(hazard.id) + ", said when " + std::string(hazard.when));
    page.more(hazard_sentence(hazard, page.unit()));
    page.more("[" + hazard_sources(hazard) + "]");
}

Json json_of(FoodClass const& food) {
    Json json{{"class", food.name},
              {"means", food.means},
              {"target_log10", food.target_log10},
              {"lethality_source", food.lethality_source},
              {"conditions", food.lethality_caution},
              {"caution", food.caution}};
    json["targets"] = Json::array();
    for (auto const& target : food.targets)
        json["targets"].push_back({{"celsius", target.celsius()},
                                   {"hold_s", target.hold_s},
                                   {"rest", target.rest},
                                   {"source", target.source}});
    return json;
}

Json rules_json() {
    Json json = Json::array();
    auto const add = [&](std::string_view rule, auto source) -> Json& {
        json.push_back({{"rule", rule}, {"source", source}});
        return json.back();
    };
    for (auto const& zone : danger_zones()) {
        auto& row = add("danger-zone", zone.source);
        row["low_c"] = zone.low_c();
        row["high_c"] = zone.high_c();
        row["most_s"] = zone.most_s;
        row["most_hot_room_s"] = zone.most_hot_room_s;
    }
    for (auto const& heating : heating_limits()) add("heating", heating.source)["most_s"] = heating.most_s;
    for (auto const& limit : hot_hold_limits()) add("hot-hold", limit.source)["least_c"] = limit.celsius();
    for (auto const& limit : cold_hold_limits()) add("cold-hold", limit.source)["most_c"] = limit.celsius();
    add("cold-hold-2h", warm_most_source)["most_s"] = warm_most_s;
    add("made-warm", made_warm_source)["most_s"] = made_warm_cold_within_s;
    add("reheating", reheat_source)["most_s"] = reheat_most_s;
    for (auto const& rule : cooling_rules()) {
        auto& row = add("cooling", rule.source);
        row["word"] = rule.word;
        row["summary"] = rule.summary;
        row["needs_cure"] = rule.needs_cure;
        row["replaced"] = rule.replaced;
    }
    return json;
}

Json json_of(Hazard const& hazard, TemperatureUnit unit) {
    Json json{{"hazard", hazard.id}, {"when", hazard.when}, {"text", hazard_sentence(hazard, unit)}};
    json["sources"] = hazard.sources;
    return json;
}

std::vector<Hazard const*> hazards_of(FoodClass const* food) {
    std::vector<Hazard const*> all;
    for (auto const& hazard : hazards())
        if (!food || hazard.can_concern(*food)) all.push_back(&hazard);
    return all;
}

std::vector<FoodSource const*> sources_of(std::vector<Hazard const*> const& shown, bool all) {
    std::vector<FoodSource const*> found;
    for (auto const& source : food_sources()) {
        bool const cited = std::ranges::any_of(shown, [&](Hazard const* hazard) {
            return std::ranges::find(hazard->sources, source.id) != hazard->sources.end();
        });
        if (all || cited) found.push_back(&source);
    }
    return found;
}

// Whose rules the classes and the limits are, each once.
std::vector<std::string_view> rule_sources(FoodClass const* food) {
    std::vector<std::string_view> all;
    auto const add = [&](std::string_view source) {
        if (!source.empty() && std::ranges::find(all, source) == all.end()) all.push_back(source);
    };
    for (auto const& one : food_classes()) {
        if (food && food != &one) continue;
        for (auto const& target : one.targets) add(target.source);
        for (auto const& target : one.hot_hold_targets) add(target.source);
        add(one.lethality_source);
    }
    for (auto const& zone : danger_zones()) add(zone.source);
    for (auto const& heating : heating_limits()) add(heating.source);
    for (auto const& limit : hot_hold_limits()) add(limit.source);
    for (auto const& limit : cold_hold_limits()) add(limit.source);
    for (auto const source : {warm_most_source, made_warm_source, reheat_source}) add(source);
    for (auto const& rule : cooling_rules()) add(rule.source);
    return all;
}

Json food_json(FoodClass const* food, TemperatureUnit unit) {
    auto const shown = hazards_of(food);
    Json json{{"caution", food_safety_caution}, {"rules", rules_json()}};
    for (char const* key : {"classes", "hazards", "sources"}) json[key] = Json::array();
    for (auto const& one : food_classes())
        if (!food || food == &one) json["classes"].push_back(json_of(one));
    for (auto const* hazard : shown) json["hazards"].push_back(json_of(*hazard, unit));
    for (auto const* source : sources_of(shown, !food))
        json["sources"].push_back({{"source", source->id},
                                   {"title", source->title},
                                   {"read_in", source->where},
                                   {"evidence", to_word(source->evidence)}});
    json["rule_sources"] = rule_sources(food);
    return json;
}

std::string food_text(FoodClass const* food, TemperatureUnit unit) {
    Explanation page(unit, terminal().width);
    auto const shown = hazards_of(food);
    for (auto const& one : food_classes())
        if (!food || food == &one) explain_class(page, one);
    explain_rules(page);
    page.head("hazards; at most two of them are named for a dish at once");
    for (auto const* hazard : shown) explain_hazard(page, *hazard);
    page.head("sources of the classes and rules");
    for (auto const source : rule_sources(food)) page.line(std::string(source));
    page.head("sources of the hazards");
    for (auto const* source : sources_of(shown, !food))
        page.line(std::string(source->title) + " (" + std::string(to_word(source->evidence)) + ": " +
                  std::string(source->where) + ")");
    page.head(wrapped(std::string(food_safety_caution), terminal().width, ""));
    return page.text();
}

int explain_food(Context& context, Options const& given) {
    auto const* food = given.food.empty() ? nullptr : &known_food(given.food);
    auto const unit = unit_to_show(context, given.units);
    if (given.json) return answer(context, true, food_json(food, unit), "");
    context.out << food_text(food, unit);
    return done;
}

}  // namespace

void add_explain(Verb const& app, Context& context) {
    auto explain =
        app.verb("explain", "foods and their rules, plans, drivers, channels, the keys of the files",
                 "  ingle explain food venison\n  ingle explain kitchen vessel");
    explain.group();
    auto const given = std::make_shared<Options>();
    auto const food = explain.verb("food", "classes, rules, hazards and their sources",
                                   "  ingle explain food\n  ingle explain food venison --json");
    food.option("CLASS", given->food, "one food class, such as venison; else all");
    food.option("--units", given->units, "degF or degC; else the running kitchen's");
    food.flag("--json", given->json, "answer in JSON; temperatures in degC but for the sentences");
    food.does([&context, given] { return explain_food(context, *given); });
    add_explain_plan(explain, context);
    add_explain_wiring(explain, context);
    add_explain_keys(explain, context);
}

}  // namespace ingle::cli
