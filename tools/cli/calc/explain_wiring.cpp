// ingle explain driver, channel: which there are, and their keys, from the tables that the loader reads by.
#include <memory>
#include <ostream>

#include "config/did_you_mean.hpp"
#include "daemon/notices/notifier.hpp"
#include "daemon/notices/policy.hpp"
#include "drivers/api/registry.hpp"
#include "tools/cli/calc/calc.hpp"
#include "tools/cli/calc/explain.hpp"
#include "tools/cli/output/text.hpp"

namespace ingle::cli {
namespace {

std::string key_words(OptionInfo const& option) {
    std::string text(option.name);
    text += option.required ? " (required)" : "";
    if (!option.help.empty()) text += ": " + std::string(option.help);
    std::string words;
    for (auto const word : option.allowed) words += (words.empty() ? "" : ", ") + std::string(word);
    if (!words.empty()) text += "; one of " + words;
    if (option.least < option.most)
        text += "; from " + decimal_text(option.least, 0) + " to " + decimal_text(option.most, 0);
    if (!option.otherwise.empty()) text += "; else " + std::string(option.otherwise);
    return text;
}

// All of a table in a line each, or one of it with its keys.
template <class Info, class Common, class OfAll>
int explain(Context& context, std::span<Info const* const> all, std::string const& name, char const* what,
            Common const& common, OfAll const& of_all) {
    auto const width = terminal().width;
    std::string names;
    for (auto const* info : all) {
        names += (names.empty() ? "" : ", ") + std::string(info->name);
        if (!name.empty() && info->name != name) continue;
        context.out << wrapped(std::string(info->name) + ": " + std::string(info->summary), width, "")
                    << "\n";
        if (name.empty()) continue;
        for (auto const& option : info->options)
            context.out << wrapped(key_words(option), width, "  ") << "\n";
        for (auto const& option : of_all(*info))
            context.out << wrapped(key_words(option), width, "  ") << "\n";
        context.out << wrapped(common(*info), width, "") << "\n";
        return done;
    }
    if (name.empty()) {
        context.out << "The keys of one: ingle explain " << what << " NAME\n";
        return done;
    }
    std::vector<std::string> known;
    for (auto const* info : all) known.emplace_back(info->name);
    throw Failure("there is no " + std::string(what) + " \"" + name + "\"; there are: " + names +
                      did_you_mean(name, known),
                  wrong_usage);
}

}  // namespace

void add_explain_wiring(Verb const& explain_verb, Context& context) {
    auto const name = std::make_shared<std::string>();
    auto const driver = explain_verb.verb("driver", "the drivers, or the keys of one",
                                          "  ingle explain driver\n  ingle explain driver serial-line");
    driver.option("DRIVER", *name, "its name; else all");
    driver.does([&context, name] {
        return explain(
            context, drivers(), *name, "driver",
            [](auto const&) {
                return "These are keys of a [[probe]], beside name, driver, every, plausible and "
                       "calibration.";
            },
            [](auto const&) { return std::span<OptionInfo const>(); });
    });
    auto const kind = std::make_shared<std::string>();
    auto const channel = explain_verb.verb("channel", "the kinds of channels for notices, or the keys of one",
                                           "  ingle explain channel\n  ingle explain channel webhook");
    channel.option("KIND", *kind, "its kind; else all");
    channel.does([&context, kind] {
        return explain(
            context, notifiers(), *kind, "channel",
            [](auto const& info) {
                return info.carries_notices
                           ? "These are keys of a [[channel]], beside name, kind, least and after."
                           : "These are keys of a [[channel]], beside name and kind.";
            },
            [](auto const& info) {
                return info.carries_notices ? policy_options() : std::span<OptionInfo const>();
            });
    });
}

}  // namespace ingle::cli
