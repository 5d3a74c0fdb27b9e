#include "tools/cli/live/dish_options.hpp"

#include <chrono>

#include "tools/cli/program/files.hpp"
#include "tools/cli/program/kitchen_change.hpp"
#include "tools/cli/time/local_time.hpp"
#include "tools/cli/time/moment.hpp"

namespace ingle::cli {

void DishOptions::declare(Verb const& command) {
    command.option("--vessel", vessel, "where it is cooked");
    command.option("--food", food, "its food class: `ingle explain food` lists them");
    command.option("--core", core, "the probe in it; \"none\" takes it out");
    command.option("--plan", plan, "its plan, such as poach; \"none\" for no plan");
    command.option("--shape", shape, "slab, cylinder or sphere");
    command.option("--thickness", thickness, "the thinnest way through, such as \"9 cm\"");
    command.option("--mass", mass, "such as \"1.8 kg\"");
    command.option("--serve-at", serve_at,
                   "when it is to be served: \"5 pm\", \"tomorrow noon\"; or \"none\"");
    command.option("--kitchen", kitchen, "the kitchen file, where no daemon tells");
}

bool DishOptions::any() const {
    for (auto const* said : {&vessel, &food, &core, &plan, &shape, &thickness, &mass, &serve_at})
        if (!said->empty()) return true;
    return false;
}

std::vector<Change> DishOptions::changes(std::string& said) const {
    std::vector<Change> changes;
    auto const add = [&](char const* key, std::string const& value) {
        if (!value.empty()) changes.emplace_back(key, value == "none" ? "" : toml_string(value));
    };
    add("vessel", vessel);
    add("core", core);
    add("food", food);
    add("plan", plan);
    add("shape", shape);
    add("thickness", thickness);
    add("mass", mass);
    if (serve_at.empty() || serve_at == "none") {
        add("serve-at", serve_at);
        return changes;
    }
    auto const now = std::chrono::floor<std::chrono::milliseconds>(std::chrono::system_clock::now());
    auto const at = parse_moment(serve_at, now, Toward::future);
    if (!at.at) throw Failure(at.wrong, wrong_usage);
    if (*at.at <= now) throw Failure("\"" + serve_at + "\" is over already: say a time to come", wrong_usage);
    said = ", to be served " + time_text(*at.at, true, false);
    add("serve-at", local_iso(std::chrono::floor<std::chrono::seconds>(*at.at)));
    return changes;
}

std::string enter_dish(Context const& context, std::string const& name, DishOptions const& options) {
    std::string said;
    if (!options.kitchen.empty()) read_kitchen(options.kitchen);  // its zone says when "5 pm" is
    auto const changes = options.changes(said);
    auto const what = change_kitchen(context, options.kitchen,
                                     [&](std::string const& text) { return with_dish(text, name, changes); });
    return name + said + ": " + what;
}

}  // namespace ingle::cli
