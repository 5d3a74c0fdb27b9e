// ingle check: is a kitchen file right? Every mistake at once, and what was understood, in both units.
#include <algorithm>
#include <filesystem>
#include <memory>
#include <ostream>

#include "daemon/food/phase.hpp"
#include "daemon/model/alarm.hpp"
#include "daemon/notices/notifier.hpp"
#include "daemon/notices/policy.hpp"
#include "daemon/wiring/kitchen_file.hpp"
#include "tools/cli/output/plan_words.hpp"
#include "tools/cli/output/text.hpp"
#include "tools/cli/program/client.hpp"
#include "tools/cli/program/files.hpp"
#include "tools/cli/program/page.hpp"
#include "tools/cli/setup/plan_check.hpp"

namespace ingle::cli {
namespace {

TemperatureUnit other(TemperatureUnit unit) {
    return unit == TemperatureUnit::celsius ? TemperatureUnit::fahrenheit : TemperatureUnit::celsius;
}

// In both units, the user's first.
std::string both(Temperature t, TemperatureUnit unit) {
    return show(t, unit) + " = " + show(t, other(unit));
}

std::string both(Band const& band, TemperatureUnit unit) {
    return band_text(band.low.celsius, band.high.celsius, unit) + " = " +
           band_text(band.low.celsius, band.high.celsius, other(unit));
}

Json mistake_json(ConfigError const& error) {
    return {{"file", error.where.file}, {"line", error.where.line}, {"column", error.where.column},
            {"key", error.key},         {"wrong", error.wrong},     {"right", error.right}};
}

std::string clock_text(int minutes) {
    auto const two = [](int n) { return (n < 10 ? "0" : "") + std::to_string(n); };
    return two(minutes / 60) + ":" + two(minutes % 60);
}

std::string name_at(auto const& items, int number) {
    auto const place = static_cast<std::size_t>(number);
    return number >= 0 && place < items.size() ? items[place].name : "-";
}

void print_probes(std::ostream& out, Settings const& settings) {
    Table table;
    for (auto const& probe : settings.probes) {
        std::string calibration = "no calibration";
        if (!probe.calibration.empty()) {
            calibration = "calibrated:";
            for (auto const& point : probe.calibration) {
                calibration += " reads " + both(point.reads, settings.units) + ", is " +
                               both(point.is, settings.units) + ";";
            }
            calibration.pop_back();
        }
        table.row({"probe " + probe.name, probe.driver, "every " + show(probe.every), calibration});
    }
    out << table.text("");
}

void print_vessels(std::ostream& out, Settings const& settings) {
    Table table;
    for (auto const& vessel : settings.vessels) {
        std::string more = vessel.room_for > 1 ? "room for " + std::to_string(vessel.room_for) : "";
        if (vessel.deadband) {
            if (!more.empty()) more += ", ";
            more += "deadband " + show(*vessel.deadband, settings.units) + " = " +
                    show(*vessel.deadband, other(settings.units));
        }
        table.row({"vessel " + vessel.name, "probe " + name_at(settings.probes, vessel.medium),
                   vessel.band ? both(*vessel.band, settings.units) : "no standing band", more});
    }
    out << table.text("");
}

std::string what_it_does(Settings const& settings, DishSettings const& dish, StageSettings const& stage) {
    if (stage.does) return std::string(to_word(*stage.does));
    int const vessel = stage.vessel >= 0 ? stage.vessel : dish.vessel;
    auto const where =
        vessel < 0 ? std::nullopt : std::optional(settings.vessels[static_cast<std::size_t>(vessel)].kind);
    return std::string(to_word(food_phase({}, where, stage.until.core))) + ", not said";
}

void print_dishes(std::ostream& out, Settings const& settings) {
    Table table;
    for (auto const& dish : settings.dishes) {
        std::string plan = dish.plan.empty() ? "no plan" : "plan " + dish.plan;
        auto const found = std::ranges::find(settings.plans, dish.plan, &PlanSettings::name);
        if (found != settings.plans.end()) {
            plan += ":";
            for (auto const& stage : found->stages) {
                plan += " " + stage.name + " (" + what_it_does(settings, dish, stage) + ")";
                if (stage.band) plan += " at " + both(*stage.band, settings.units);
                if (stage.until.core) plan += " until core " + both(*stage.until.core, settings.units);
                if (stage.until.time) plan += " for " + show(*stage.until.time);
                if (stage.hands) plan += " with hands for " + show(*stage.hands);
                plan += ",";
            }
            if (plan.ends_with(',')) plan.pop_back();
        }
        table.row({"dish " + dish.name, dish.food.empty() ? "no food class" : dish.food,
                   "in " + name_at(settings.vessels, dish.vessel),
                   "core " + name_at(settings.probes, dish.core), plan});
    }
    out << table.text("");
}

Loaded load(std::string const& file) {
    std::error_code error;
    if (!std::filesystem::is_regular_file(file, error)) return load_kitchen_for_use(file);
    auto const text = read_file(file, longest_kitchen_file);
    if (!is_plan_alone(text)) return load_kitchen_for_use(file);
    Loaded loaded;
    if (says_nothing(text))
        loaded.errors.push_back(
            {{file, 0, 0},
             "",
             "is empty",
             "begin a kitchen file with [kitchen], a plan with name = \"...\" and [[stage]]"});
    else
        loaded.settings.plans.push_back(read_plan(text, file, loaded.errors));
    loaded.settings.file = file;
    return loaded;
}

void print_plan(std::ostream& out, PlanSettings const& plan) {
    out << "plan " << plan.name << "\n";
    for (auto const& sentence : plan_sentences(plan, unit_of(plan.text)))
        out << wrapped(sentence, terminal().width, "  ") << "\n";
}

int check(Context& context, std::string const& file, bool json) {
    auto loaded = load(file);
    for (auto const& plan : loaded.settings.plans)
        for (auto& doubt : doubts_of(plan)) loaded.warnings.push_back(std::move(doubt));
    auto const& errors = loaded.errors;
    if (json) {
        Json answer{{"right", errors.empty()}, {"errors", Json::array()}, {"warnings", Json::array()}};
        for (auto const& error : errors) answer["errors"].push_back(mistake_json(error));
        for (auto const& warning : loaded.warnings) answer["warnings"].push_back(mistake_json(warning));
        context.out << answer.dump(2, ' ', false, Json::error_handler_t::replace) << "\n";
        return errors.empty() ? done : wrong_usage;
    }
    for (auto const& error : errors) context.out << error.text() << "\n";
    for (auto const& warning : loaded.warnings) context.out << "worth a look: " << warning.text() << "\n";
    if (!errors.empty()) {
        context.out << errors.size() << (errors.size() == 1 ? " mistake" : " mistakes") << "\n";
        return wrong_usage;
    }
    auto const& settings = loaded.settings;
    if (loaded.texts.text.empty()) {
        print_plan(context.out, settings.plans.front());
        context.out << "no mistakes\n";
        return done;
    }
    context.out << "kitchen " << settings.name << ", shown in " << unit_name(settings.units) << "\n";
    if (settings.awake)
        context.out << "somebody is there from " << clock_text(settings.awake->from) << " to "
                    << clock_text(settings.awake->to) << "\n";
    print_probes(context.out, settings);
    print_vessels(context.out, settings);
    print_dishes(context.out, settings);
    for (auto const& channel : settings.channels) {
        context.out << "channel " << channel.name << "  " << channel.kind;
        if (auto const* kind = find_notifier(channel.kind); kind && !kind->carries_notices) {
            context.out << ": " << kind->summary << "\n";
            continue;
        }
        context.out << ", from " << to_word(channel.least) << " on"
                    << (channel.after.seconds > 0 ? ", after " + show(channel.after) : "")
                    << in_words(policy_of(channel.options)) << "\n";
    }
    context.out << "no mistakes\n";
    return done;
}

}  // namespace

void add_check(Verb const& app, Context& context) {
    auto command = app.verb("check", "check a kitchen file and the plans that it names, or a plan",
                            "  ingle check kitchen.toml\n  ingle check plans/poach.toml");
    auto const file = std::make_shared<std::string>();
    auto const json = std::make_shared<bool>(false);
    command.required("KITCHEN", *file, "the kitchen file, or a plan file");
    command.flag("--json", *json, "answer in JSON");
    command.does([&context, file, json] {
        return on_a_page(context, [&](Context& page) { return check(page, *file, *json); });
    });
}

}  // namespace ingle::cli
