#include <algorithm>
#include <array>
#include <cmath>

#include "config/no_vessel.hpp"
#include "config/sections.hpp"

namespace ingle {
namespace {

constexpr double longest_hands_s = 12 * 3600;
constexpr double longest_excursion_s = 86'400;
constexpr double usual_excursion = 0.1;  // of the time that the stage waits for
constexpr double most_lethality = 7;     // log10: the last column of the published tables
constexpr double no_cooked_core_c = 15;
constexpr std::array<std::string_view, 8> does_words{"cook",      "brine", "chill", "hot-hold",
                                                     "cold-hold", "rest",  "thaw",  "reheat"};

// What is mostly water gets little hotter than water boils.
constexpr Temperature core_least{-30}, core_most{105};

bool check_core(Reader& reader, char const* key, std::optional<Temperature> core) {
    auto const possible = [](Temperature t) { return t >= core_least && t <= core_most; };
    if (!core || possible(*core)) return true;
    std::string right = "from " + both_units(core_least) + " to " + both_units(core_most);
    bool const whole = std::abs(core->celsius - std::round(core->celsius)) < 1e-6;
    if (Temperature const other{(core->celsius - 32) / 1.8}; whole && possible(other))
        right = "did you mean \"" + show(other, TemperatureUnit::fahrenheit, 0) + "\"? Else " + right;
    reader.wrong(key, both_units(*core) + " is no core temperature of food", std::move(right));
    return false;
}

Until read_until(Reader& stage, std::string const& prefix, std::vector<ConfigError>& errors) {
    Until until;
    auto const* node = stage.take("until");
    if (!node) return until;
    if (!node->table()) {
        stage.wrong("until", "is " + std::string(kind_of(*node)),
                    "write { core = \"165 degF\" }, { time = \"2 h\" } or { lethality = 7.0 }");
        return until;
    }
    Reader reader(*node, prefix + ".until", errors);
    until.core = reader.quantity("core", parse_temperature);
    until.time = reader.quantity("time", parse_duration);
    until.lethality = reader.number("lethality");
    if (until.lethality && !(*until.lethality > 0 && *until.lethality <= most_lethality))
        reader.wrong(
            "lethality", "is out of range",
            "write the log10 reduction, above 0 and at most 7, the last column of the published tables");
    check_core(reader, "core", until.core);
    reader.refuse_the_rest();
    if (node->table()->empty())
        stage.wrong("until", "is empty", "leave it out for a stage that `ingle next` ends");
    return until;
}

// How `until.time` is counted.
void read_clock(Reader& reader, StageSettings& stage) {
    if (auto const counts = reader.text("counts")) {
        stage.counts_from_begin = *counts == "from-begin";
        if (*counts != "from-begin" && *counts != "from-band")
            reader.wrong("counts", "is " + in_quotes(*counts),
                         "write \"from-band\" (the time counts once the band is reached) or \"from-begin\"");
        else if (!stage.band && *counts == "from-band")
            reader.wrong("counts", "is \"from-band\" and the stage has no band",
                         "give the stage a band, or leave counts out");
    }
    auto const excursion = reader.quantity("excursion", parse_duration);
    if (!excursion) {
        if (stage.until.time)
            stage.excursion.seconds =
                std::min(stage.excursion.seconds, stage.until.time->seconds * usual_excursion);
        return;
    }
    stage.excursion = *excursion;
    if (!stage.band || stage.counts_from_begin)
        reader.wrong("excursion", "says nothing here: the time of this stage counts from its begin",
                     "leave it out, or give the stage a band");
    else if (excursion->seconds < 0 || excursion->seconds > longest_excursion_s)
        reader.wrong("excursion", show(*excursion) + " is out of range", "from 0 to 1 day");
}

// How long the cook is needed, which is no longer than the stage may last.
std::optional<Duration> read_hands(Reader& reader, StageSettings const& stage) {
    auto const hands = reader.quantity("hands", parse_duration);
    if (!hands) return hands;
    if (hands->seconds < 0 || hands->seconds > longest_hands_s)
        reader.wrong("hands", show(*hands) + " is out of range", "from 0 to 12 h");
    auto const within = [&](std::optional<Duration> most, char const* key) {
        if (most && *hands > *most)
            reader.wrong("hands", show(*hands) + " is longer than " + key + ", " + show(*most),
                         "at most as long as the stage");
    };
    within(stage.at_most, "at-most");
    if (stage.until.only_time()) within(stage.until.time, "until.time");
    return hands;
}

StageSettings read_stage(Node const& table, std::size_t place, std::string& vessel,
                         std::vector<ConfigError>& errors) {
    auto const prefix = entry_prefix(table, "stage", place);
    Reader reader(table, prefix, errors);
    StageSettings stage;
    stage.where = table.where;
    stage.name = read_name(reader);
    if (auto const does = reader.word("does", does_words))
        stage.does = static_cast<Does>(std::ranges::find(does_words, *does) - does_words.begin());
    vessel = reader.text("vessel").value_or("");
    if (auto const band = reader.range("band")) stage.band = Band{band->first, band->second};
    if (vessel == no_vessel && stage.band)
        reader.wrong("band", "is that of a vessel, and the stage needs none",
                     "name the vessel, or leave the band out");
    stage.until = read_until(reader, prefix, errors);
    stage.at_least = reader.quantity("at-least", parse_duration);
    stage.at_most = reader.quantity("at-most", parse_duration);
    stage.core_most = reader.quantity("core-most", parse_temperature);
    if (check_core(reader, "core-most", stage.core_most) && stage.core_most && stage.until.core &&
        *stage.core_most <= *stage.until.core)
        reader.wrong(
            "core-most",
            both_units(*stage.core_most) + " is not above until.core, " + both_units(*stage.until.core),
            "a higher core-most, or leave it out");
    if (stage.at_least && stage.at_most && *stage.at_least > *stage.at_most)
        reader.wrong("at-least", show(*stage.at_least) + " is longer than at-most, " + show(*stage.at_most),
                     "exchange the two");
    if (stage.until.time && stage.at_most && *stage.until.time > *stage.at_most)
        reader.wrong("at-most",
                     show(*stage.at_most) + " is shorter than until.time, " + show(*stage.until.time),
                     "a longer at-most, or leave it out");
    stage.hands = read_hands(reader, stage);
    read_clock(reader, stage);
    reader.refuse_the_rest();
    return stage;
}

struct Join {
    Loaded& loaded;
    DishSettings const& dish;

    // The default is `cook`, which is not what is done in a fridge, a room or a hot box, nor to a cold core.
    void ask_what_it_does(PlanSettings const& plan, StageSettings const& stage,
                          VesselSettings const& vessel) const {
        char const* right = nullptr;
        if (vessel.kind == VesselKind::fridge)
            right = "write does = \"chill\", \"cold-hold\", \"brine\" or \"thaw\"";
        else if (vessel.kind == VesselKind::hot_box)
            right = "write does = \"hot-hold\" or \"reheat\"";
        else if (vessel.kind == VesselKind::room)
            right = "write does = \"rest\", \"chill\" or \"thaw\"";
        else if (stage.until.core && stage.until.core->celsius <= no_cooked_core_c)
            right = "write does = \"chill\" or \"thaw\"";
        if (!right) return;
        loaded.warnings.push_back({stage.where, "stage." + stage.name + ".does",
                                   "is missing: the food rules for stage " + in_quotes(stage.name) +
                                       " of the plan " + in_quotes(plan.name) + " in " +
                                       in_quotes(vessel.name) + " depend on it",
                                   right});
    }

    void wrong(Where const& where, std::string const& key, std::string what, std::string right) const {
        loaded.errors.push_back({where, key, std::move(what), std::move(right)});
    }
    void stage(PlanSettings const& plan, StageSettings const& stage, bool nowhere) const {
        auto const dish_key = "dish." + dish.name;
        auto const which = "stage " + in_quotes(stage.name) + " of the plan " + in_quotes(plan.name);
        if (stage.until.core && dish.core < 0)
            wrong(dish.where, dish_key + ".core", "is missing: " + which + " waits for a core temperature",
                  "name the probe in the core, or take a plan that ends by time");
        if (stage.until.lethality && (dish.core < 0 || dish.food.empty()))
            wrong(dish.where, dish_key,
                  which + " waits for a lethality, which needs a core probe and a food class",
                  "give the dish core and food");
        auto const* core =
            dish.core >= 0 ? &loaded.settings.probes[static_cast<std::size_t>(dish.core)] : nullptr;
        if (stage.until.core && core && core->plausible && *stage.until.core > core->plausible->second)
            wrong(core->where, "probe." + core->name + ".plausible",
                  "ends at " + both_units(core->plausible->second) + ", below the " +
                      both_units(*stage.until.core) + " that " + which + " waits for",
                  "a wider range, or leave it out");
        int const number = stage.vessel >= 0 ? stage.vessel : dish.vessel;
        if (number < 0 || nowhere) return;
        auto const& vessel = loaded.settings.vessels[static_cast<std::size_t>(number)];
        if (!stage.does) ask_what_it_does(plan, stage, vessel);
        if (!stage.band) return;
        check_band(*stage.band, vessel, stage.where, "stage." + stage.name + ".band", loaded);
    }
};

}  // namespace

std::string_view to_word(Does does) {
    return does_words[static_cast<std::size_t>(does)];
}

std::optional<Does> does_of_word(std::string_view word) {
    auto const found = std::ranges::find(does_words, word);
    if (found == does_words.end()) return std::nullopt;
    return static_cast<Does>(found - does_words.begin());
}

PlanSettings read_plan(std::string_view text, std::string const& file, std::vector<ConfigError>& errors) {
    PlanSettings plan;
    plan.file = file;
    plan.text = text;
    auto const before = errors.size();
    auto const document = parse_document(text, file, errors);
    plan.where = document.where;
    if (errors.size() > before) return plan;
    Reader reader(document, "", errors);
    plan.name = read_name(reader);
    reader.need("stage", "begin each stage with [[stage]]");
    if (auto const* stages = reader.tables("stage")) {
        if (stages->empty()) reader.wrong("stage", "is empty", "begin each stage with [[stage]]");
        for (auto const& table : *stages) {
            auto& vessel = plan.stage_vessels.emplace_back();
            plan.stages.push_back(read_stage(table, plan.stages.size(), vessel, errors));
        }
    }
    reader.refuse_the_rest();
    return plan;
}

void join_plans(Loaded& loaded) {
    auto& settings = loaded.settings;
    for (auto& plan : settings.plans) {
        plan.stage_vessels.resize(plan.stages.size());
        for (std::size_t i = 0; i < plan.stages.size(); ++i) {
            auto const& name = plan.stage_vessels[i];
            if (name.empty() || name == no_vessel) continue;
            auto& stage = plan.stages[i];
            stage.vessel = number_of(settings.vessels, name);
            if (stage.vessel < 0)
                loaded.errors.push_back({stage.where, "stage." + stage.name + ".vessel",
                                         "there is no vessel " + in_quotes(name) + " in " + settings.file,
                                         instead_of(name, settings.vessels, "vessel")});
        }
    }
    for (auto const& dish : settings.dishes) {
        if (dish.plan.empty()) continue;
        auto const plan = std::ranges::find(settings.plans, dish.plan, &PlanSettings::name);
        if (plan == settings.plans.end()) {
            loaded.errors.push_back({dish.where, "dish." + dish.name + ".plan",
                                     "there is no plan " + in_quotes(dish.plan),
                                     instead_of(dish.plan, settings.plans, "plan")});
            continue;
        }
        for (std::size_t i = 0; i < plan->stages.size(); ++i)
            Join{loaded, dish}.stage(*plan, plan->stages[i], plan->stage_vessels[i] == no_vessel);
    }
}

}  // namespace ingle
