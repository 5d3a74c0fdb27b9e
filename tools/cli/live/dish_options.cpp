#include "tools/cli/live/dish_options.hpp"

#include <chrono>

#include "config/civil_time/iso_time.hpp"
#include "tools/cli/program/client.hpp"
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

namespace {

// A serving time that was said on the page goes before the file's until the file has another one than it had
// then. Where the file has the same again, the daemon is told that it is meant now.
void tell_serving_time(Context const& context, std::string const& name, Json const& at) {
    try {
        Client const client(context.socket());
        auto const now = client.get("/api/now");
        for (auto const& dish : now.at("dishes")) {
            if (dish.at("name") != name) continue;
            auto const& said = dish.at("serve_at");
            bool const same = said.is_null() || at.is_null() ? said == at
                                                             : parse_iso_time(said.get<std::string>()) ==
                                                                   parse_iso_time(at.get<std::string>());
            if (!same) client.post("/api/commands/serve", {{"dish", name}, {"at", at}});
        }
    } catch (NoDaemon const&) {  // the next one goes by the file
    }
}

}  // namespace

std::string enter_dish(Context const& context, std::string const& name, DishOptions const& options) {
    std::string said;
    if (!options.kitchen.empty()) read_kitchen(options.kitchen);  // its zone says when "5 pm" is
    auto const changes = options.changes(said);
    auto const what = change_kitchen(context, options.kitchen,
                                     [&](std::string const& text) { return with_dish(text, name, changes); });
    if (!options.serve_at.empty() && options.kitchen.empty()) {
        Json at;
        for (auto const& [key, value] : changes)
            if (std::string_view(key) == "serve-at" && !value.empty()) at = value.substr(1, value.size() - 2);
        tell_serving_time(context, name, at);
    }
    return name + said + ": " + what;
}

}  // namespace ingle::cli
