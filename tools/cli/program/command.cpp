#include "tools/cli/program/command.hpp"

#include <CLI/CLI.hpp>
#include <algorithm>
#include <iostream>
#include <memory>

#include "config/did_you_mean.hpp"
#include "config/plain_text.hpp"
#include "config/reader.hpp"
#include "tools/cli/output/fitted.hpp"
#include "tools/cli/output/text.hpp"
#include "tools/cli/program/client.hpp"

namespace ingle::cli {

struct Program {  // outlives its verbs
    std::function<int()> chosen;
    std::vector<std::unique_ptr<Verb::Impl>> verbs;
};

struct Verb::Impl {
    CLI::App* app;
    Program* program;
};

Verb Verb::verb(std::string const& name, std::string const& help, std::string const& example) const {
    auto* app = impl_->app->add_subcommand(name, help);
    app->footer("Example:\n" + example);
    impl_->program->verbs.push_back(std::make_unique<Impl>(Impl{app, impl_->program}));
    return Verb(*impl_->program->verbs.back());
}

void Verb::group() const {
    impl_->app->require_subcommand(1);
}

void Verb::required(std::string const& name, std::string& into, std::string const& help) const {
    impl_->app->add_option(name, into, help)->required();
}

void Verb::option(std::string const& name, std::string& into, std::string const& help) const {
    auto* option = impl_->app->add_option(name, into, help);
    // A script's empty variable is not an option that was left away.
    option->check(
        [](std::string const& value) { return value.empty() ? std::string("is empty") : std::string(); });
    if (!into.empty()) option->capture_default_str();
}

void Verb::one_of(std::string const& name, std::string& into, std::vector<std::string> const& words,
                  std::string const& help) const {
    impl_->app->add_option(name, into, help)->required()->check(CLI::IsMember(words));
}

void Verb::words(std::string const& name, std::vector<std::string>& into, std::string const& help,
                 bool at_least_one) const {
    impl_->app->add_option(name, into, help)->required(at_least_one);
}

void Verb::repeated(std::string const& name, std::vector<std::string>& into, std::string const& help) const {
    // One value for each time it is given, so that it does not swallow what
    // follows.
    impl_->app->add_option(name, into, help)->expected(1)->take_all();
}

void Verb::flag(std::string const& name, bool& into, std::string const& help) const {
    impl_->app->add_flag(name, into, help);
}

void Verb::does(std::function<int()> run) const {
    impl_->app->callback([app = impl_->app, program = impl_->program, run = std::move(run)] {
        if (app->get_subcommands().empty()) program->chosen = run;  // otherwise one of its verbs was given
    });
}

namespace {

Json declaration_of(CLI::Option const& option) {
    Json json{{"names", Json::array()}, {"help", option.get_description()}};
    for (auto const& name : option.get_snames()) json["names"].push_back("-" + name);
    for (auto const& name : option.get_lnames()) json["names"].push_back("--" + name);
    if (option.get_items_expected_max() == 0) return json;
    // The kind of an option that takes one of several words is "TEXT:{ice,boiling}".
    auto const kind = option.get_type_name();
    auto const open = kind.find('{');
    json["value"] = option.get_positional() ? option.get_name() : "TEXT";
    json["required"] = option.get_required();
    json["many"] = option.get_items_expected_max() > 1;
    json["otherwise"] = option.get_default_str();
    json["words"] = Json::array();
    if (open != std::string::npos)
        for (auto const& word : CLI::detail::split(kind.substr(open + 1, kind.find('}') - open - 1), ','))
            json["words"].push_back(word);
    return json;
}

Json declaration_of(CLI::App const& command) {
    auto const example = command.get_footer();
    auto const begin = example.find('\n');
    Json json{{"name", command.get_name()},
              {"help", command.get_description()},
              {"example", begin == std::string::npos ? "" : example.substr(begin + 1)},
              {"options", Json::array()},
              {"commands", Json::array()}};
    for (auto const* option : command.get_options()) json["options"].push_back(declaration_of(*option));
    for (auto const* below : command.get_subcommands({})) json["commands"].push_back(declaration_of(*below));
    return json;
}

}  // namespace

std::string Verb::declared() const {
    CLI::App const* top = impl_->app;
    while (top->get_parent()) top = top->get_parent();
    return declaration_of(*top).dump(1);
}

namespace {

// On standard error; at a terminal, as wide as that is.
void complain(std::string const& sentence) {
    auto const text = "ingle: " + plain_text(sentence);
    auto const screen = terminal();
    std::cerr << (screen.interactive ? fitted(text, screen.width) : text) << "\n";
}

// What else people call a command.
constexpr std::pair<std::string_view, std::string_view> also_called[] = {
    {"start", "begin"},   {"cook", "begin"},  {"stop", "end"},      {"finish", "end"},
    {"done", "end"},      {"undo", "back"},   {"revert", "back"},   {"skip", "next"},
    {"status", "now"},    {"show", "now"},    {"temp", "now"},      {"watch", "now"},
    {"set", "hold"},      {"keep", "hold"},   {"mute", "shelve"},   {"silence", "shelve"},
    {"snooze", "shelve"}, {"log", "history"}, {"chart", "history"}, {"add", "dish"},
    {"serve", "dish"},    {"setup", "init"},  {"new", "init"},      {"alarm", "alarms"},
    {"probes", "probe"}};

// The first word that is no option: the command; "" if there is none.
std::string_view command_in(int argc, char** argv) {
    for (int i = 1; i < argc; ++i) {
        std::string_view const word(argv[i]);
        if (word == "--state")
            ++i;
        else if (!word.starts_with('-'))
            return word;
    }
    return {};
}

// Of a command that is followed by one of several words: which there are; "" if it is none.
std::string one_of_its_words(CLI::App const& app, std::string_view command) {
    auto const* group = app.get_subcommand(std::string(command));
    if (group->get_require_subcommand_min() == 0 || !group->get_subcommands().empty()) return "";
    std::vector<std::string> names;
    for (auto const* one : group->get_subcommands({})) names.push_back(one->get_name());
    std::vector<std::string_view> const words(names.begin(), names.end());
    std::string list;
    for (auto const word : words) list += (list.empty() ? "" : ", ") + std::string(word);
    auto const rest = group->remaining();
    auto const meant = rest.empty() ? std::nullopt : nearest(rest.front(), words);
    return "`ingle " + std::string(command) + "` is followed by one of: " + list +
           (meant ? "; did you mean `ingle " + std::string(command) + " " + std::string(*meant) + "`?" : "");
}

// The command that was given, to its last word: "calc cook-time".
std::pair<CLI::App const*, std::string> deepest(CLI::App const& app) {
    CLI::App const* here = &app;
    std::string name;
    while (!here->get_subcommands().empty()) {
        here = here->get_subcommands().front();
        name += (name.empty() ? "" : " ") + here->get_name();
    }
    return {here, name};
}

// An option that the command has not, with the one that is nearest; "" if none is to blame.
std::string unknown_option(CLI::App const& command, std::string const& name) {
    auto const rest = command.remaining();
    auto const wrong = std::ranges::find_if(
        rest, [](std::string const& word) { return word.size() > 1 && word.starts_with('-'); });
    if (wrong == rest.end()) return "";
    std::vector<std::string> known;
    for (auto const* option : command.get_options())
        for (auto const& one : option->get_lnames()) known.push_back("--" + one);
    auto const typed = wrong->substr(0, wrong->find('='));
    return "`ingle " + name + "` has no option " + typed + did_you_mean(typed, known);
}

// One line that leads on, for a command line that cannot be read.
std::string what_is_wrong(CLI::App const& app, std::string_view command, CLI::ParseError const& error) {
    std::vector<std::string> names;
    for (auto const* one : app.get_subcommands({})) names.push_back(one->get_name());
    bool const known = std::ranges::find(names, command) != names.end();
    if (command == "help")
        return "`ingle --help` lists the commands; `ingle hold --help` shows one, with an example";
    if (command.empty()) return "say what to do, such as `ingle now`; `ingle --help` lists the commands";
    if (known) {
        if (auto text = one_of_its_words(app, command); !text.empty()) return text;
        auto const [given, name] = deepest(app);
        auto text = unknown_option(*given, name);
        if (text.empty()) text = error.what();
        while (text.ends_with('\n')) text.pop_back();
        return text + "; `ingle " + (name.empty() ? std::string(command) : name) + " --help` shows how";
    }
    std::vector<std::string_view> const words(names.begin(), names.end());
    auto meant = nearest(command, words);
    for (auto const& [word, name] : also_called)
        if (word == command) meant = name;
    return "there is no command \"" + std::string(command) + "\"" +
           (meant ? "; did you mean `ingle " + std::string(*meant) + "`?" : "; `ingle --help` lists them");
}

}  // namespace

int run_program(int argc, char** argv, Context& context) {
    CLI::App app{
        "Ingle watches the temperatures of a kitchen. Hold a pot at a simmer:\n"
        "  ingle hold stockpot \"180 degF\" \"190 degF\""};
    app.name("ingle");
    app.set_version_flag("--version", std::string(INGLE_VERSION));
    app.require_subcommand(1);
    auto state = context.state.string();
    app.add_option("--state", state, "the daemon's state folder")->capture_default_str();
    Program program;
    Verb::Impl top{&app, &program};
#define COMMAND(name) add_##name(Verb(top), context);
#include "tools/cli/program/commands.def"
#undef COMMAND
    try {
        app.parse(argc, argv);
    } catch (CLI::ParseError const& error) {
        if (error.get_exit_code() == 0) return app.exit(error) == 0 ? done : wrong_usage;
        complain(what_is_wrong(app, command_in(argc, argv), error));
        return wrong_usage;
    }
    context.state = state;
    try {
        if (context.before) context.before(context);
        int const status = program.chosen();
        context.out.flush();
        if (context.out) return status;
        std::cerr << "ingle: the answer could not be written out: what it is sent to is full or closed\n";
        return no;
    } catch (Failure const& failure) {
        context.out.flush();
        complain(failure.what());
        return failure.status;
    } catch (std::exception const& error) {
        complain(error.what());
        return no;
    }
}

}  // namespace ingle::cli
