// ingle begin, next, end, back: a dish through its stages, and a step that was
// not meant.
#include <algorithm>
#include <memory>
#include <ostream>
#include <utility>

#include "tools/cli/live/dish_options.hpp"
#include "tools/cli/live/past_moment.hpp"
#include "tools/cli/program/client.hpp"
#include "tools/cli/program/questions.hpp"

namespace ingle::cli {
namespace {

struct Options {
    std::string dish, when;
    DishOptions of_dish;
    bool again = false, json = false;
};

bool is_there(Client const& client, std::string const& name) {
    auto const now = client.get("/api/now");
    return std::ranges::any_of(now.at("dishes"), [&](auto const& dish) { return dish.at("name") == name; });
}

std::string names(Json const& list) {
    std::string text;
    for (auto const& one : list) text += (text.empty() ? "" : ", ") + one.at("name").get<std::string>();
    return text;
}

// What the daemon would refuse is refused before the file is written.
void refuse_what_cannot_begin(Client const& client, Options const& given) {
    auto const now = client.get("/api/now");
    for (auto const& dish : now.at("dishes")) {
        if (!dish.at("begun").get<bool>()) continue;
        auto const name = dish.at("name").get<std::string>();
        if (name == given.dish) throw Failure(name + " has already begun: end it first; nothing was changed");
        if (!given.of_dish.core.empty() && dish.at("core").value("probe", Json()) == given.of_dish.core)
            throw Failure(given.of_dish.core + " is in " + name + ", which cooks; nothing was changed");
    }
}

// A dish that is in no file yet is begun as one that is: with the same mistakes
// told.
void enter_new_dish(Context& context, Client const& client, Options& given) {
    if (!given.of_dish.any() && (given.json || !somebody_to_ask() || is_there(client, given.dish))) return;
    if (!given.of_dish.any()) {
        auto const now = client.get("/api/now");
        Questions questions(context.out, true);
        questions.say("There is no dish \"" + given.dish + "\" yet. A few questions:");
        given.of_dish.vessel = questions.ask("In which vessel (" + names(now.at("vessels")) + ")");
        given.of_dish.food =
            questions.ask("What food (`ingle explain food` lists the classes; empty: not said)");
        given.of_dish.core =
            questions.ask("Which probe is in it (" + names(now.at("probes")) + "; empty: none)");
        given.of_dish.plan = questions.ask("Which plan (such as poach, smoke, bake; empty: none)");
    }
    refuse_what_cannot_begin(client, given);
    context.out << enter_dish(context, given.dish, given.of_dish) << "\n";
}

// Before the cook leaves it alone: a channel that has not delivered this week may be dead.
void offer_channel_test(Context& context, Client const& client) {
    Json notices;
    try {
        notices = client.get("/api/notices");
    } catch (Failure const&) {
        return;  // the dish is begun all the same
    }
    auto const channels = notices.find("channels");
    if (channels == notices.end()) return;
    for (auto const& channel : *channels) {
        if (channel.at("state") == "proven") continue;
        auto const name = channel.at("name").get<std::string>();
        context.out << "Notices by " << name << " have not been proven to arrive this week.";
        Questions questions(context.out, somebody_to_ask());
        if (!questions.asks()) {
            context.out << " Try it: ingle notices test " << name << "\n";
            continue;
        }
        auto const answer = questions.ask(" Send one now, y or n", "n");
        if (!answer.starts_with('y') && !answer.starts_with('Y')) continue;
        try {
            auto const sent = client.post("/api/channels/" + percent_encoded(name) + "/test", Json::object());
            context.out << sent.at("text").get<std::string>() << "\n";
        } catch (Failure const& failure) {
            context.out << failure.what() << "\n";
        }
    }
}

int order(Context& context, std::string const& name, Options& given) {
    Client const client(context.socket());
    std::string said;
    Json when;
    if (!given.when.empty()) when = past_moment(given.when, said);
    if (name == "begin") enter_new_dish(context, client, given);
    Json body{{"dish", given.dish}};
    if (!when.is_null()) body["when"] = std::move(when);
    if (given.again) body["again"] = true;
    int const status = client.command(context, name, body, given.json);
    if (status == done && !said.empty() && !given.json) context.out << "as of " << said << "\n";
    if (status == done && name == "begin" && !given.json) offer_channel_test(context, client);
    return status;
}

}  // namespace

void add_stages(Verb const& app, Context& context) {
    constexpr std::pair<char const*, char const*> stages[] = {
        {"begin", "begin cooking a dish: its plan's first stage"},
        {"next", "go on to the next stage of a dish"},
        {"end", "the dish is done: end its cook"},
        {"back", "take back the newest begin, next or end of a dish; readings go on as if it had not been"}};
    for (auto const& [word, help] : stages) {
        std::string const name = word;
        auto const command = app.verb(
            name, help,
            "  ingle " + name + " goose-roll" +
                (name == "begin" ? "\n  ingle begin goose-roll --when \"20 min ago\"\n  ingle begin trout-2 "
                                   "--vessel brining-tub --food fish --plan brine-fish"
                                 : ""));
        auto const given = std::make_shared<Options>();
        command.required("DISH", given->dish, "its name in the kitchen file");
        if (name == "begin") {
            command.option("--when", given->when,
                           "it began then: \"14:05\", \"20 min ago\", \"yesterday 6 pm\"");
            given->of_dish.declare(command);
        }
        if (name == "next")
            command.flag("--again", given->again, "also where the newest `next` was moments ago");
        command.flag("--json", given->json, "answer in JSON");
        command.does([&context, given, name] { return order(context, name, *given); });
    }
}

}  // namespace ingle::cli
