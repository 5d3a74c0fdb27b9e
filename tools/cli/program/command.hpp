// What the commands of `ingle` share: where the state is, where output goes, and how a command ends. Each
// command lives in one file, which adds it to the program; commands.def lists them.
#pragma once

#include <filesystem>
#include <functional>
#include <iosfwd>
#include <stdexcept>
#include <string>
#include <vector>

#include "daemon/wiring/state_folder.hpp"

namespace ingle::cli {

struct Context {
    std::filesystem::path state;  // the daemon's state folder
    std::ostream& out;
    std::function<void(Context const&)> before = {};  // a command runs, with `state` as it was given

    std::filesystem::path socket() const { return state / "ingled.sock"; }
    std::filesystem::path logbook() const { return kept_logbook_path(state); }
};

// Exit statuses of every command.
inline constexpr int done = 0, no = 1, wrong_usage = 2;

// Ends the command with a sentence on standard error.
struct Failure : std::runtime_error {
    explicit Failure(std::string const& sentence, int exit_status = no)
        : std::runtime_error(sentence), status(exit_status) {}
    int status;
};

// A command, or the program itself, being declared. Built on CLI11, which is compiled in one place only
// (command.cpp) because it costs seconds. What it fills in must live until the command has run: share it with
// the function given to `does`.
class Verb {
public:
    struct Impl;
    explicit Verb(Impl& impl) : impl_(&impl) {}

    Verb verb(std::string const& name, std::string const& help, std::string const& example) const;
    void group() const;  // one of its verbs must be given
    void required(std::string const& name, std::string& into, std::string const& help) const;
    void option(std::string const& name, std::string& into, std::string const& help) const;
    void one_of(std::string const& name, std::string& into, std::vector<std::string> const& words,
                std::string const& help) const;  // required
    void words(std::string const& name, std::vector<std::string>& into, std::string const& help,
               bool at_least_one = false) const;
    void repeated(std::string const& name, std::vector<std::string>& into, std::string const& help) const;
    void flag(std::string const& name, bool& into, std::string const& help) const;
    void does(std::function<int()> run) const;

    // All that is declared of the program, whichever of its verbs is asked, in JSON, from which the manual
    // pages and the completions are made. A command is {name, help, example, options, commands}; an option
    // {names, help} and, unless it is a flag, {value, required, many, otherwise, words}; one without names is
    // a positional.
    std::string declared() const;

private:
    Impl* impl_;
};

// Parses the command line and does what it says; the exit status.
int run_program(int argc, char** argv, Context& context);

// Declares every command of commands.def: add_now and so on, each defined in the file of its command.
#define COMMAND(name) void add_##name(Verb const& app, Context& context);
#include "tools/cli/program/commands.def"
#undef COMMAND

}  // namespace ingle::cli
