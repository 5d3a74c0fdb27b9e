// ingle dish: a dish added to the kitchen, changed or dropped, without an editor.
#include <algorithm>
#include <memory>
#include <ostream>

#include "tools/cli/live/dish_options.hpp"
#include "tools/cli/program/client.hpp"
#include "tools/cli/program/kitchen_change.hpp"

namespace ingle::cli {
namespace {

void refuse_while_it_cooks(Context const& context, std::string const& name, std::string const& why = {}) {
    Json now;
    try {
        now = Client(context.socket()).get("/api/now");
    } catch (NoDaemon const&) {
        return;  // no daemon, no cook that runs
    }
    for (auto const& dish : now.at("dishes")) {
        if (dish.at("name") != name) continue;
        if (dish.at("begun").is_null())
            throw Failure("the logbook is not open yet, so nobody knows whether " + name +
                              " cooks: try again once it is; nothing was changed",
                          no);
        if (dish.at("begun") == true)
            throw Failure(name + " cooks" + why + ": end it first, with `ingle end " + name + "`",
                          wrong_usage);
    }
}

// What `begin` refuses: one probe as the core of two dishes that cook.
void refuse_a_core_that_is_in_another(Context const& context, std::string const& name,
                                      DishOptions const& given) {
    if (given.core.empty() || given.core == "none") return;
    Json now;
    try {
        now = Client(context.socket()).get("/api/now");
    } catch (NoDaemon const&) {
        return;
    }
    auto const cooks = [](Json const& dish) { return dish.at("begun") == true; };
    auto const& dishes = now.at("dishes");
    if (std::ranges::none_of(dishes,
                             [&](auto const& dish) { return dish.at("name") == name && cooks(dish); }))
        return;
    for (auto const& dish : dishes)
        if (dish.at("name") != name && cooks(dish) && dish.at("core").value("probe", Json()) == given.core)
            throw Failure(
                given.core + " is in " + dish.at("name").get<std::string>() +
                ", which cooks: end that one, or give one of them another core; nothing was changed");
}

// A cook that is under way goes on elsewhere: said, or it would seem to be of the next one. "" = none is.
std::string changed_for_its_cook(Context const& context, std::string const& name, DishOptions const& given) {
    if (given.vessel.empty() && given.core.empty()) return {};
    Json now;
    try {
        now = Client(context.socket()).get("/api/now");
    } catch (NoDaemon const&) {
        return {};
    }
    for (auto const& dish : now.at("dishes")) {
        if (dish.at("name") != name || dish.at("begun") != true) continue;
        auto text = name + " cooks:";
        if (!given.vessel.empty()) text += " from now on in " + given.vessel;
        if (!given.vessel.empty() && !given.core.empty()) text += ",";
        if (given.core == "none")
            text += " without a core probe";
        else if (!given.core.empty())
            text += " its core is what " + given.core + " reads from now on";
        return text + ".\n";
    }
    return {};
}

}  // namespace

void add_dish(Verb const& app, Context& context) {
    auto command = app.verb("dish", "add a dish to the kitchen file, change it, or drop it",
                            "  ingle dish trout-2 --vessel brining-tub --food fish --plan brine-fish\n"
                            "  ingle dish goose-roll --serve-at \"5 pm\"\n  ingle dish trout-2 --drop");
    struct Options {
        std::string name;
        DishOptions dish;
        bool drop = false;
    };
    auto const given = std::make_shared<Options>();
    command.required("DISH", given->name, "its name: lower case, digits, -");
    given->dish.declare(command);
    command.flag("--drop", given->drop, "take it out of the kitchen file");
    command.does([&context, given] {
        if (!given->drop) {
            if (!given->dish.any())
                throw Failure("say what of it is to change, such as --vessel or --serve-at \"5 pm\"",
                              wrong_usage);
            if (!given->dish.plan.empty())
                refuse_while_it_cooks(context, given->name, ", and goes on by the plan that it began with");
            refuse_a_core_that_is_in_another(context, given->name, given->dish);
            context.out << enter_dish(context, given->name, given->dish) << "\n"
                        << changed_for_its_cook(context, given->name, given->dish);
            return done;
        }
        refuse_while_it_cooks(context, given->name);
        auto const text = change_kitchen(context, given->dish.kitchen, [&](std::string const& before) {
            if (!has_dish(before, given->name))
                throw Failure("there is no dish \"" + given->name + "\" in the kitchen file", wrong_usage);
            return without_dish(before, given->name);
        });
        context.out << given->name << " is dropped: " << text << "\n";
        return done;
    });
}

}  // namespace ingle::cli
