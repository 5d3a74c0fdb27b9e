// ingle begin, next, end: a dish through its stages.
#include <memory>
#include <utility>

#include "tools/cli/program/client.hpp"

namespace ingle::cli {

void add_stages(Verb const& app, Context& context) {
    constexpr std::pair<char const*, char const*> stages[] = {
        {"begin", "begin cooking a dish: its plan's first stage"},
        {"next", "go on to the next stage of a dish"},
        {"end", "the dish is done: end its cook"}};
    for (auto const& [word, help] : stages) {
        std::string const name = word;
        auto const command = app.verb(name, help, "  ingle " + name + " goose-roll");
        auto const dish = std::make_shared<std::string>();
        auto const json = std::make_shared<bool>(false);
        command.required("DISH", *dish, "its name in the kitchen file");
        command.flag("--json", *json, "answer in JSON");
        command.does([&context, dish, json, name] {
            return Client(context.socket()).command(context, name, {{"dish", *dish}}, *json);
        });
    }
}

}  // namespace ingle::cli
