// ingle explain kitchen, stage, commands: the keys of a kitchen file and of a plan file, and the program
// itself.
#include <memory>
#include <ostream>

#include "config/did_you_mean.hpp"
#include "config/keys.hpp"
#include "tools/cli/calc/calc.hpp"
#include "tools/cli/calc/explain.hpp"
#include "tools/cli/output/text.hpp"

namespace ingle::cli {
namespace {

std::string key_line(KeyHelp const& key) {
    return std::string(key.name) + (key.example.empty() ? "" : " = " + std::string(key.example)) +
           (key.required ? " (required)" : "");
}

void explain_section(Context& context, SectionHelp const& section, std::size_t width) {
    context.out << wrapped((section.written.empty() ? "" : std::string(section.written) + "  ") +
                               std::string(section.means),
                           width, "")
                << "\n";
    for (auto const& key : section.keys)
        context.out << wrapped(key_line(key), width, "  ") << "\n"
                    << wrapped(std::string(key.means), width, "      ") << "\n";
}

int explain(Context& context, std::span<SectionHelp const> sections, std::string const& asked) {
    std::string names;
    bool first = true, found = false;
    for (auto const& section : sections) {
        names += (names.empty() ? "" : ", ") + std::string(section.name);
        if (!asked.empty() && section.name != asked) continue;
        found = true;
        if (!std::exchange(first, false)) context.out << "\n";
        explain_section(context, section, terminal().width);
    }
    if (!found)
        throw Failure("there is no section \"" + asked + "\"; there are: " + names +
                          did_you_mean(asked, names_of(sections)),
                      wrong_usage);
    return done;
}

}  // namespace

void add_explain_keys(Verb const& explain_verb, Context& context) {
    auto const section = std::make_shared<std::string>();
    auto const kitchen = explain_verb.verb("kitchen", "the keys of a kitchen file",
                                           "  ingle explain kitchen\n  ingle explain kitchen vessel");
    kitchen.option("SECTION", *section, "kitchen, probe, vessel, dish, channel or serve; else all");
    kitchen.does([&context, section] { return explain(context, kitchen_sections(), *section); });
    auto const stage =
        explain_verb.verb("stage", "the keys of a plan file and its stages", "  ingle explain stage");
    stage.does([&context] { return explain(context, plan_sections(), ""); });
    auto const commands = explain_verb.verb(
        "commands", "the commands of this program with their options, in JSON", "  ingle explain commands");
    commands.does([&context, commands] {
        context.out << commands.declared() << "\n";
        return done;
    });
}

}  // namespace ingle::cli
